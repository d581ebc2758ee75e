package trial

import (
	"math"
	"strings"

	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// Unit says how an error is counted.
type Unit string

// Units of error.
const (
	Milliseconds Unit = "ms"
	Percent      Unit = "%"
	Degrees      Unit = "deg"
	Centimetres  Unit = "cm"
	Plain        Unit = ""
)

// promise is one row of the promised figures: medians by condition in the order W, T, P, I, B.
// NaN: not promised.
type promise struct {
	name   string
	unit   Unit
	values [5]float64
}

var none = math.NaN()

// Promised figures (accuracy.md). Slow motion is held to the phone's column.
var (
	eventPromises = map[phase.EventKind]promise{
		phase.Contact:      {"CONTACT", Milliseconds, [5]float64{2, 4, 5, 6, 12}},
		phase.ForwardStart: {"FORWARD_START", Milliseconds, [5]float64{8, 12, 15, 20, none}},
		phase.MaxLag:       {"MAX_LAG", Milliseconds, [5]float64{8, 12, 15, 20, none}},
		phase.RacketLow:    {"RACKET_LOW", Milliseconds, [5]float64{8, 12, 15, 20, none}},
		phase.DropStart:    {"DROP_START", Milliseconds, [5]float64{8, 12, 15, 20, none}},
		phase.TurnStart:    {"TURN_START", Milliseconds, [5]float64{20, 30, 40, 50, 50}},
		phase.TurnComplete: {"TURN_COMPLETE", Milliseconds, [5]float64{20, 30, 40, 50, 50}},
	}
	measurePromises = []promise{ // a name that ends in a dot stands for a group; the first that fits holds
		{"racket_speed.tip.contact", Percent, [5]float64{2, 4, 7, 10, 20}},
		{"lag.max", Degrees, [5]float64{3, 5, 8, 12, none}},
		{"turn.", Degrees, [5]float64{2, 4, 7, 10, 8}},
		{"elbow.", Degrees, [5]float64{2, 4, 7, 10, 8}},
		{"spacing.", Centimetres, [5]float64{1, 2, 4, 6, 6}},
		{"contact.", Centimetres, [5]float64{1, 2, 4, 6, 6}},
	}
	foundPromise  = promise{"swings found", Percent, [5]float64{99.5, 99, 99, 98, 97}}
	falsePromise  = promise{"false swings", Percent, [5]float64{0.5, 1, 1, 2, 3}}
	strokePromise = promise{"stroke named right", Percent, [5]float64{99, 98, 98, 95, 95}}
)

// Coverage and lies promised in every condition (accuracy.md).
const (
	coverageLow, coverageHigh = 92.0, 98.0 // %
	mostLies                  = 0.5        // %
)

// fallbackBars serve only to tell which truths stand on a knife's edge, for what
// has no promise of its own: by kind of quantity, in the order W, T, P, I, B
// (chosen in line with the promised rows, no source).
var fallbackBars = map[string][5]float64{
	"s":   {0.02, 0.03, 0.04, 0.05, 0.05},
	"deg": {3, 5, 8, 12, 12},
	"m":   {0.02, 0.03, 0.05, 0.08, 0.08},
	"m/s": {0.5, 0.8, 1.2, 2, 3},
	"1":   {0.1, 0.1, 0.1, 0.1, 0.1},
	"Hz":  {100, 150, 250, 350, 350}, // deg/s
}

func column(c synth.Condition) int {
	switch c {
	case synth.World:
		return 0
	case synth.TwoViews:
		return 1
	case synth.ImageOnly:
		return 3
	case synth.BodyOnly:
		return 4
	}
	return 2
}

func promised(name string) (promise, bool) {
	for _, p := range measurePromises {
		if p.name == name || strings.HasSuffix(p.name, ".") && strings.HasPrefix(name, p.name) {
			return p, true
		}
	}
	return promise{}, false
}

// errorIn turns an error of a measure in its own unit into the unit in which it is counted.
func errorIn(name string, err, truth float64) (float64, Unit) {
	p, ok := promised(name)
	switch {
	case strings.HasPrefix(name, "racket_speed."):
		return 100 * err / math.Abs(truth), Percent
	case ok && p.unit == Centimetres:
		return 100 * err, Centimetres
	case ok:
		return err, p.unit
	}
	return err, Unit(kindOf(name))
}

// kindOf is the plain unit of a measure, by its name.
func kindOf(name string) string {
	switch {
	case name == "lag.release_rate":
		return "Hz"
	case name == "lag.snap_back", name == "lag.tip_wrap", name == "lag.tip_path", strings.HasSuffix(name, "_drop"),
		strings.HasPrefix(name, "take_back."), name == "legs.rise", name == "head.stillness", name == "serve.toss_height", name == "body.stature",
		strings.HasPrefix(name, "spacing."), strings.HasPrefix(name, "contact."):
		return "m"
	case name == "legs.base_width", name == "chain.in_order":
		return "1"
	case strings.HasPrefix(name, "tempo."), name == "lag.release_time", name == "chain.hips_to_racket":
		return "s"
	case strings.HasPrefix(name, "racket_speed."), strings.HasPrefix(name, "ball."):
		return "m/s"
	}
	return "deg"
}

// bar is the error that is still good, in the measure's own unit.
func bar(name string, col int, truth float64) float64 {
	if p, ok := promised(name); ok && !math.IsNaN(p.values[col]) {
		switch p.unit {
		case Percent:
			return p.values[col] / 100 * math.Abs(truth)
		case Centimetres:
			return p.values[col] / 100
		}
		return p.values[col]
	}
	return fallbackBars[kindOf(name)][col]
}

// eventBar is the same for an event, s.
func eventBar(k phase.EventKind, col int) float64 {
	if p, ok := eventPromises[k]; ok && !math.IsNaN(p.values[col]) {
		return p.values[col] / 1000
	}
	return fallbackBars["s"][col]
}
