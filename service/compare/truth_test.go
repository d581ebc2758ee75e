package compare_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// trueSheet is what a perfect observer of a made swing reports, with the errors
// that world points give.
func trueSheet(spec synth.Spec) *measure.Sheet {
	truth := synth.NewSwing(spec).Truth(0, true)
	s := &measure.Sheet{Stroke: truth.Stroke, StrokeConfidence: 1, Hand: spec.Hand,
		Capture: measure.Capture{Method: "world", FrameRate: 120, SlowMotion: 1}}
	for _, row := range measure.Catalog() {
		v, ok := truth.Measures[row.Name]
		sd, known := map[string]float64{"deg": 2, "m": .01, "s": .01, "m/s": math.Max(.3, .03*math.Abs(v)), "deg/s": 80, "1": .03}[row.Unit]
		if ok && known {
			s.Figures = append(s.Figures, measure.Figure{Name: row.Name, Value: v, SD: sd, Low: v - 1.96*sd, High: v + 1.96*sd, Unit: row.Unit, Grade: measure.Good})
		}
	}
	for k := phase.EventUnknown + 1; k < phase.NumEvents; k++ {
		if t := truth.Events[k]; !math.IsNaN(t) {
			s.Events = append(s.Events, phase.Event{Kind: k, Time: t, SD: .004})
		}
	}
	return s
}

// TestMadeSwingsThatDifferInOneThing: whole swings of which one property was
// moved, everything that hangs on it moving too. The property comes first.
func TestMadeSwingsThatDifferInOneThing(t *testing.T) {
	for _, c := range []struct {
		stroke body.Stroke
		knobs  synth.Knobs
		first  string
	}{
		{body.Forehand, synth.Knobs{}, ""},
		{body.Forehand, synth.Knobs{TakeBack: 20}, "take_back.hands_height"},
		{body.Forehand, synth.Knobs{ArmBend: .06}, "elbow.hitting.contact"},
		{body.Forehand, synth.Knobs{BallHeight: .3}, "contact.height"},
		{body.Forehand, synth.Knobs{Turn: -25}, "turn.shoulders.max"},
		{body.TwoHandedBackhand, synth.Knobs{Turn: -25}, "turn.shoulders.max"},
		{body.TwoHandedBackhand, synth.Knobs{TakeBack: 20}, "take_back.hands_height"},
		{body.OneHandedBackhand, synth.Knobs{ArmBend: .06}, "elbow.hitting.contact"},
		{body.OneHandedBackhand, synth.Knobs{BallHeight: .3}, "contact.height"},
	} {
		for seed := range uint64(2) {
			spec := synth.Spec{Stroke: c.stroke, Level: body.Advanced, Hand: body.RightHanded, Stature: 1.8, Seed: seed + 1}
			reference := trueSheet(spec)
			spec.Knobs = c.knobs
			r, err := compare.Swings(reference, trueSheet(spec), compare.Default())
			if err != nil {
				t.Fatal(err)
			}
			first := ""
			if d := r.Differences[0]; d.Verdict == compare.Different {
				first = d.Measure
			}
			if first != c.first {
				t.Errorf("%v %+v: %q comes first, want %q", c.stroke, c.knobs, first, c.first)
			}
		}
	}
}
