package measure

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/phase"
)

// Need names what a measure cannot do without, besides events.
type Need uint16

// Needs.
const (
	NeedRacket    Need = 1 << iota // tip, axis and head centre of the racket
	NeedGrip                       // grip centre, from the racket or the wrists
	NeedBall                       // the figure that the ball tells
	NeedEars                       // both ear points
	NeedNose                       // the nose
	NeedShoulders                  // both shoulders
	NeedElbows                     // both elbows
	NeedWrists                     // both wrists
	NeedHips                       // both hips
	NeedKnees                      // both knees
	NeedAnkles                     // both ankles
	NeedStature                    // the player's standing height
)

// Group collects measures whose errors behave alike: they share a floor
// and a refusal.
type Group uint8

// Groups.
const (
	GroupTime    Group = iota // instants and durations
	GroupSpeed                // racket and hand
	GroupLag                  // angles of the racket to the arm and the path
	GroupAngle                // turns, flexions, tilts
	GroupPath                 // direction of the head centre through contact
	GroupPlace                // where things are
	GroupLength               // how far things travel
	GroupStill                // small displacements
	GroupOrder                // shares
	GroupBall                 // ball speeds
	GroupShare                // ratios of lengths
	GroupStature              // the standing height

	numGroups
)

// Row is one measure of the catalog.
type Row struct {
	Name       string
	Title      string
	Definition string
	Unit       string // UCUM
	Strokes    []body.Stroke
	Source     string

	Group       Group
	Needs       Need
	Events      []phase.EventKind // without which it is undefined; DropStart: or TurnComplete in its place
	FromHands   bool              // without racket points the hands give it, with the error handsShare beside the draws'
	FromLengths bool              // where the standing height is not told, the body's lengths give it, with the error StatureShare beside the draws'
	Raised      bool              // noise of the course can only raise it: a largest value of a slow curve, a root mean square, a rate
	Chain       bool              // read from TurnComplete (serve and overhead: Trophy) to contact
	NeedsTarget bool              // depends on X: ROUGH at best when the target direction was assumed

	// PromisedSD is the widest standard deviation of a GOOD figure, in Unit; when
	// PromisedShare is set, also no more than that share of the value.
	PromisedSD    float64
	PromisedShare float64

	Views     []camera.Viewpoint // where one camera is enough
	Undefined string             // why it has no value although its events are there

	read func(*Reader) float64
}

// For reports whether the measure is defined for a stroke.
func (r *Row) For(s body.Stroke) bool {
	for _, x := range r.Strokes {
		if x == s {
			return true
		}
	}
	return false
}

// promised returns the widest standard deviation of a GOOD figure of this value.
func (r *Row) promised(value float64) float64 {
	if r.PromisedShare > 0 {
		return min(r.PromisedSD, r.PromisedShare*max(value, -value))
	}
	return r.PromisedSD
}

// Catalog returns every measure, in a fixed order: that of the figures and of
// the values of Evaluate. The rows are shared and must not be changed.
func Catalog() []Row { return catalog }

// Index returns the place of a measure in the catalog; ok is false for a name
// that it does not hold.
func Index(name string) (i int, ok bool) {
	i, ok = places[name]
	return i, ok
}

var catalog = joined(tempoRows, speedRows, lagRows, pathRows, takeBackRows, turnRows,
	armRows, contactRows, postureRows, legRows, chainRows, ballRows, bodyRows)

var places = placed(catalog)

func joined(parts ...[]Row) []Row {
	var all []Row
	for _, p := range parts {
		all = append(all, p...)
	}
	return all
}

func placed(rows []Row) map[string]int {
	at := make(map[string]int, len(rows))
	for i := range rows {
		at[rows[i].Name] = i
	}
	return at
}
