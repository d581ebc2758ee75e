package phase

import "example.com/courtkin/service/body"

// Definition is one event of the catalog.
type Definition struct {
	Kind       EventKind
	Title      string
	Definition string
	Strokes    []body.Stroke // for which it can be there
	Source     string
}

// Sources of the definitions. No published operational definition was found for
// most of them, so they are the service's own and say so.
const (
	ownDefinition  = "own definition; no published operational definition was found"
	commonPractice = "common practice"
)

var (
	allStrokes = []body.Stroke{
		body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand,
		body.Serve, body.ForehandVolley, body.BackhandVolley, body.Overhead,
	}
	notServe = []body.Stroke{
		body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand,
		body.ForehandVolley, body.BackhandVolley, body.Overhead,
	}
	serveOnly     = []body.Stroke{body.Serve}
	overheadKinds = []body.Stroke{body.Serve, body.Overhead}
)

// Catalog returns the definition of every event, in the order of the kinds. The
// caller owns the result; the lists of strokes are shared and must not be changed.
func Catalog() []Definition {
	return []Definition{
		{SplitLanding, "Split-step landing", "The lower of the two ankles has risen at least 2 cm over its standing level and is back within 0.5 cm of it: the last such landing from 1.0 s before to 0.3 s after the start of the turn. Absent without a hop.", notServe, ownDefinition + ""},
		{TurnStart, "Start of the turn", "The last instant before the fastest turn of the shoulders toward the hitting side at which the turn rate is under 20 % of that fastest rate, searched within 2.0 s before contact (serve: from 1.0 s before the release; overhead: within 2.5 s).", allStrokes, ownDefinition},
		{TurnComplete, "Turn complete", "The first instant after the start of the turn at which the shoulder turn reaches 97 % of its largest value before contact.", allStrokes, ownDefinition},
		{DropStart, "Start of the racket drop", "The last local maximum of the tip's height after the start of the turn and before the racket's lowest point that is at least 5 cm higher than that point. Absent without one.", allStrokes, ownDefinition},
		{ForwardStart, "Start of the forward swing", "The last instant before contact at which the grip centre's velocity along f rises through 5 % of its value just before impact; f is the horizontal direction of the head centre (without racket points: of the grip centre) over the last 40 ms before contact.", allStrokes, ownDefinition},
		{MaxLag, "Largest lag", "The largest lag angle between the start of the forward swing and contact, while the grip moves faster than 20 % of its speed just before impact.", allStrokes, ownDefinition},
		{RacketLow, "Racket lowest", "The lowest tip height between the completed turn (serve and overhead: the trophy) and contact where that is an inner minimum. Absent when the lowest point is at an end of the stretch.", allStrokes, ownDefinition},
		{Contact, "Contact", "The ball meets the strings; without a ball, the instant that the break in the racket's and wrists' motion supports best.", allStrokes, commonPractice},
		{FollowEnd, "End of the follow-through", "The first instant after contact at which the tip's speed is under 20 % of its value just before impact.", allStrokes, ownDefinition},
		{Recovered, "Recovered", "The first instant after the follow-through from which, for 0.1 s, the tip is ahead of mid-hip toward the net and the shoulder turn is within 20° of 0. Absent when that does not come within 2 s.", allStrokes, ownDefinition},
		{BallRelease, "Ball release", "The tossing wrist and the ball part; without a ball, the tossing wrist's fastest rise.", serveOnly, commonPractice},
		{Trophy, "Trophy", "The deepest flexion of the back knee between the release (overhead: the start of the turn) and contact.", overheadKinds, "deepest knee bend as the serve's loading instant: common practice"},
	}
}
