package cue

import (
	"math"
	"strings"

	"cel.dev/cel-go/cel"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

// Variables of a condition. Every measure of the catalog gives four doubles,
// <measure>.value, .low and .high (95 % interval) and .sd. They exist only
// when the figure does: a condition that asks for an absent one is not met,
// whereas a field read as 0 would be a figure that nobody measured.
const (
	partValue = iota
	partLow
	partHigh
	partSD
	numParts
)

var partNames = [numParts]string{"value", "low", "high", "sd"}

// others are the variables beside the measures.
var others = map[string]*cel.Type{
	"stroke":                     cel.StringType, // "two_handed_backhand"
	"level":                      cel.IntType,    // 0 unknown, 1 beginner … 4 elite
	"junior":                     cel.BoolType,
	"swings":                     cel.IntType, // before this one
	"warnings":                   cel.ListType(cel.StringType),
	"capture.frame_rate_hz":      cel.DoubleType,
	"capture.slow_motion_factor": cel.DoubleType,
	"capture.scale_sd":           cel.DoubleType, // relative
	"capture.method":             cel.StringType,
	"capture.viewpoint":          cel.StringType,
	"capture.known_share":        cel.DoubleType, // of the figures on the sheet
	"capture.rough_share":        cel.DoubleType, // of the known figures
	"capture.racket_seen":        cel.BoolType,
	"practice.tiring":            cel.BoolType, // found over many swings; false for one
	"feed.asked":                 cel.BoolType, // a ball machine asks
	"feed.volume":                cel.BoolType, // and has fed enough
}

// slot is where a measure's variable is found.
type slot struct{ measure, part int }

// slots maps variable names to measures; built once, read only.
var slots = func() map[string]slot {
	m := map[string]slot{}
	for i, row := range measure.Catalog() {
		for part, name := range partNames {
			m[row.Name+"."+name] = slot{i, part}
		}
	}
	return m
}()

// variables declares all of them.
func variables() []cel.EnvOption {
	var all []cel.EnvOption
	for name := range slots {
		all = append(all, cel.Variable(name, cel.DoubleType))
	}
	for name, t := range others {
		all = append(all, cel.Variable(name, t))
	}
	return all
}

// measuresIn lists the measures whose variables an expression may name, by
// their names in the text.
func measuresIn(expr string) []string {
	var found []string
	for _, row := range measure.Catalog() {
		for _, part := range partNames {
			if strings.Contains(expr, row.Name+"."+part) {
				found = append(found, row.Name)
				break
			}
		}
	}
	return found
}

// facts is one swing and its player as conditions see them.
type facts struct {
	figures [][numParts]float64 // by place in the catalog
	known   []bool
	grades  []measure.Grade
	other   map[string]any
	instead *[numParts]float64 // stands in for one measure's figure
	at      int                // which one
}

// ResolveName returns a variable; false when there is no such figure.
func (f *facts) ResolveName(name string) (any, bool) {
	if s, ok := slots[name]; ok {
		if !f.known[s.measure] {
			return nil, false
		}
		if f.instead != nil && f.at == s.measure {
			return f.instead[s.part], true
		}
		return f.figures[s.measure][s.part], true
	}
	v, ok := f.other[name]
	return v, ok
}

// Parent returns nothing: there is no wider scope.
func (f *facts) Parent() cel.Activation { return nil }

// newFacts reads a sheet.
func newFacts(s *measure.Sheet, p body.Player, swings uint32) *facts {
	n := len(measure.Catalog())
	f := &facts{figures: make([][numParts]float64, n), known: make([]bool, n), grades: make([]measure.Grade, n), at: -1}
	seen, rough, racket := 0, 0, false
	for _, g := range s.Figures {
		i, ok := measure.Index(g.Name)
		if !ok || !usable(g) {
			continue
		}
		f.figures[i] = [numParts]float64{g.Value, g.Low, g.High, g.SD}
		f.known[i], f.grades[i] = true, g.Grade
		seen++
		if g.Grade == measure.Rough {
			rough++
		}
		racket = racket || strings.HasPrefix(g.Name, "lag.") || strings.HasPrefix(g.Name, "racket_speed.tip")
	}
	f.other = map[string]any{
		"stroke": strokeName(s.Stroke), "level": int64(p.Level), "junior": p.Junior, "swings": int64(swings),
		"warnings": warningCodes(s), "capture.frame_rate_hz": s.Capture.FrameRate,
		"capture.slow_motion_factor": s.Capture.SlowMotion, "capture.scale_sd": s.Capture.ScaleSD,
		"capture.method": s.Capture.Method, "capture.viewpoint": viewNames[min(int(s.Capture.View), len(viewNames)-1)],
		"capture.known_share": share(seen, len(s.Figures)), "capture.rough_share": share(rough, seen),
		"capture.racket_seen": racket, "practice.tiring": false, "feed.asked": false, "feed.volume": false,
	}
	return f
}

// usable reports whether a figure has a value with an interval about it.
func usable(g measure.Figure) bool {
	x := g.Value + g.Low + g.High + g.SD
	return g.Known() && !math.IsNaN(x) && !math.IsInf(x, 0) && g.Low <= g.Value && g.Value <= g.High
}

func share(part, of int) float64 {
	if of == 0 {
		return 0
	}
	return float64(part) / float64(of)
}

func warningCodes(s *measure.Sheet) []string {
	codes := make([]string, len(s.Warnings))
	for i, w := range s.Warnings {
		codes[i] = w.Code
	}
	return codes
}

func strokeName(s body.Stroke) string {
	for name, x := range strokeNames {
		if x == s {
			return name
		}
	}
	return "unknown"
}

// viewNames are the viewpoints by their wire numbers.
var viewNames = [...]string{"unknown", "behind", "front", "right", "left"}
