package compare_test

import (
	"math"
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// settled keeps the swings that a machine settles.
type settled []*measure.Sheet

func (*settled) Event(swing.LiveEvent)    {}
func (*settled) Reading(swing.Reading)    {}
func (*settled) Warning(measure.Warning)  {}
func (*settled) Progress(swing.Progress)  {}
func (s *settled) Swing(x *measure.Sheet) { *s = append(*s, x) }

// filmed shows a motion and analyses the frames; nil unless one swing comes out.
func filmed(t *testing.T, m *synth.Motion, c synth.Condition, v synth.View, seed uint64) (*measure.Sheet, *synth.TrueSwing) {
	t.Helper()
	clip := synth.Shoot(m, c, v, seed)
	clip.Setup.Trace = true
	machine, err := swing.New(clip.Setup)
	if err != nil {
		t.Fatal(err)
	}
	var found settled
	for i := range clip.Frames {
		if err := machine.Push(&clip.Frames[i], &found); err != nil {
			t.Fatal(err)
		}
	}
	machine.Finish(&found)
	if len(found) != 1 {
		return nil, nil
	}
	return found[0], &clip.Truth[0]
}

// findings are the differences named over many pairs, and those of them that are none.
type findings struct{ pairs, wrongPairs, named, wrong int }

// add counts what a comparison names. A figure is named wrongly where the true difference
// is under a tenth of the margin, or of the other sign; a curve, where nothing differs.
func (f *findings) add(t *testing.T, about string, r compare.Result, a, b *synth.TrueSwing) {
	t.Helper()
	f.pairs++
	before := f.wrong
	for _, d := range r.Differences {
		if d.Verdict != compare.Different {
			continue
		}
		f.named++
		truth := b.Measures[d.Measure] - a.Measures[d.Measure]
		if truth*d.Difference <= 0 || math.Abs(truth) < compare.Margin(d.Measure, d.Unit, d.Reference)/10 {
			f.wrong++
			t.Logf("%s: %s named, %.4g ± %.2g, true %.4g", about, d.Measure, d.Difference, d.SD, truth)
		}
	}
	for _, c := range r.Curves {
		if c.Verdict == compare.Different && a == b {
			f.named++
			f.wrong++
			t.Logf("%s: curve %s named, %.3g at %.2f s", about, c.Series, c.Largest, c.LargestAt)
		}
	}
	if f.wrong > before {
		f.wrongPairs++
	}
}

// most is how many wrong findings in n a rate of q allows: q·n and three binomial errors.
func most(q float64, n int) float64 {
	return q*float64(n) + 3*math.Sqrt(q*(1-q)*float64(n))
}

// TestFilmedSwingsThatDifferInOneThing: from frames to the verdict. Pairs that differ in
// one thing name it first; whatever else they name truly differs (all that hangs on the
// one thing moves with it), but for the stated false discovery rate.
func TestFilmedSwingsThatDifferInOneThing(t *testing.T) {
	var f findings
	found := 0
	for _, c := range []struct {
		stroke body.Stroke
		knobs  synth.Knobs
		first  string
	}{
		{body.Forehand, synth.Knobs{Lag: 25}, "lag.tip_wrap"},
		{body.OneHandedBackhand, synth.Knobs{Lag: 25}, "lag.tip_wrap"},
		{body.TwoHandedBackhand, synth.Knobs{Lag: 25}, "lag.tip_wrap"},
		{body.OneHandedBackhand, synth.Knobs{Spacing: -.1}, "spacing.hands"},
		{body.SliceBackhand, synth.Knobs{Spacing: -.1}, "spacing.hands"},
		{body.TwoHandedBackhand, synth.Knobs{Spacing: -.1}, "spacing.hands"},
		{body.Forehand, synth.Knobs{TakeBack: 25}, "take_back.hands_height"},
		{body.OneHandedBackhand, synth.Knobs{TakeBack: 25}, "take_back.hands_height"},
		{body.TwoHandedBackhand, synth.Knobs{TakeBack: 25}, "take_back.hands_height"},
		{body.Forehand, synth.Knobs{ArmBend: .06}, "elbow.hitting.contact"},
		{body.OneHandedBackhand, synth.Knobs{ArmBend: .06}, "elbow.hitting.contact"},
		{body.Forehand, synth.Knobs{BallHeight: .3}, "contact.height"},
		{body.OneHandedBackhand, synth.Knobs{BallHeight: .3}, "contact.height"},
		{body.Forehand, synth.Knobs{Turn: -25}, "turn.shoulders.max"},
	} {
		for seed := range uint64(2) {
			spec := synth.Spec{Stroke: c.stroke, Level: body.Advanced, Hand: body.RightHanded, Stature: 1.8, Seed: seed + 1}
			a, truthA := filmed(t, synth.NewSwing(spec), synth.World, synth.View{}, 2*seed+1)
			spec.Knobs = c.knobs
			b, truthB := filmed(t, synth.NewSwing(spec), synth.World, synth.View{}, 2*seed+2)
			if a == nil || b == nil {
				t.Errorf("%v %+v, seed %d: not analysed", c.stroke, c.knobs, seed)
				continue
			}
			r, err := compare.Swings(a, b, compare.Default())
			if err != nil {
				t.Fatal(err)
			}
			f.add(t, c.stroke.String(), r, truthA, truthB)
			// What the errors of both sides leave open among so many comparisons is not named:
			// p = 0.01/110 is 4.1 sd.
			planted, of := truthB.Measures[c.first]-truthA.Measures[c.first], told(r, c.first)
			if math.Abs(planted) < math.Max(compare.Margin(c.first, of.Unit, of.Reference), 5*of.SD) {
				continue
			}
			found++
			if d := r.Differences[0]; d.Verdict != compare.Different || d.Measure != c.first {
				t.Errorf("%v %+v, seed %d: %s first (%v, %.3g ± %.2g), want %s, which is %.3g off: %s", c.stroke, c.knobs, seed, d.Measure, d.Verdict, d.Difference, d.SD, c.first, planted, of.Text)
			}
		}
	}
	if found < 24 {
		t.Errorf("only %d pairs truly differ in what was planted", found)
	}
	if allowed := most(.01, f.named); float64(f.wrong) > allowed {
		t.Errorf("%d of %d differences named are none, want at most %.1f", f.wrong, f.named, allowed)
	}
	t.Logf("%d planted; %+v", found, f)
}

// TestFilmedEqualSwingsGiveNone: one motion filmed twice, with fresh cameras and noise.
// With nothing truly different, the false discovery rate is the share of pairs that name
// anything.
func TestFilmedEqualSwingsGiveNone(t *testing.T) {
	for _, c := range []struct {
		condition synth.Condition
		pairs     uint64
	}{{synth.World, 16}, {synth.TwoViews, 8}, {synth.Phone, 4}} {
		var f findings
		for i := range c.pairs {
			m := synth.NewSwing(synth.Spec{Stroke: body.Stroke(1 + i%8), Seed: 900 + i})
			v := synth.View{From: camera.ViewBehind}
			a, truth := filmed(t, m, c.condition, v, 2*i+1)
			b, _ := filmed(t, m, c.condition, v, 2*i+2)
			if a == nil || b == nil {
				continue
			}
			r, err := compare.Swings(a, b, compare.Default())
			if err != nil {
				t.Fatal(err)
			}
			f.add(t, string(rune(c.condition)), r, truth, truth)
		}
		if float64(f.wrongPairs) > most(.01, f.pairs) || uint64(f.pairs) < c.pairs/2 {
			t.Errorf("%c: %d of %d equal pairs name a difference", c.condition, f.wrongPairs, f.pairs)
		}
	}
}

// TestFilmedFromAnotherSide: the view alone differs; the warning says so, and no
// difference is named.
func TestFilmedFromAnotherSide(t *testing.T) {
	var f findings
	for i := range uint64(10) {
		m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Level: body.Advanced, Seed: 950 + i})
		a, truth := filmed(t, m, synth.Phone, synth.View{From: camera.ViewBehind}, 2*i+1)
		b, _ := filmed(t, m, synth.Phone, synth.View{From: camera.ViewRight}, 2*i+2)
		if a == nil || b == nil {
			continue
		}
		r, err := compare.Swings(a, b, compare.Default())
		if err != nil {
			t.Fatal(err)
		}
		f.add(t, "another side", r, truth, truth)
		if !slices.ContainsFunc(r.Warnings, func(w measure.Warning) bool { return w.Code == "unlike_view" }) {
			t.Errorf("warnings %v, want unlike_view", r.Warnings)
		}
	}
	if float64(f.wrongPairs) > most(.01, f.pairs) || f.pairs < 6 {
		t.Errorf("%d of %d pairs seen from two sides name a difference", f.wrongPairs, f.pairs)
	}
}

// told is what a comparison says of a measure.
func told(r compare.Result, name string) compare.Difference {
	for _, d := range r.Differences {
		if d.Measure == name {
			return d
		}
	}
	return compare.Difference{}
}
