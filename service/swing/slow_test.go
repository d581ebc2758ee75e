package swing_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// windowsOf returns the windows that a clip's swings are settled from.
func windowsOf(t *testing.T, s swing.Setup, frames []body.Frame) (out []swing.Candidate) {
	t.Helper()
	m, err := swing.New(s)
	if err != nil {
		t.Fatal(err)
	}
	m.SettleWith(func(w []body.Frame, c swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
		out = append(out, c)
		return swing.Unsettled(w, c, s)
	})
	for i := range frames {
		if err := m.Push(&frames[i], &watch{}); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(&watch{})
	return out
}

// oneSwing is a clip of one made stroke.
func oneSwing(c synth.Condition, k body.Stroke, seed uint64) synth.Clip {
	return synth.Shoot(synth.NewSwing(synth.Spec{Stroke: k, Seed: seed}), c, synth.View{}, seed)
}

// A factor that nobody states is found within 5 % (accuracy.md, clock), or in doubt.
func TestSlowMotionIsFoundOrInDoubt(t *testing.T) {
	found, sure := 0, 0
	const n = 10
	for seed := range uint64(n) {
		k := []body.Stroke{body.Forehand, body.Serve}[seed%2]
		clip := oneSwing(synth.SlowMotion, k, 300+seed)
		for _, w := range windowsOf(t, clip.Setup, clip.Frames) {
			if math.Abs(clip.Real(float64(w.ContactUS))-clip.Truth[0].Contact) > 0.25 {
				continue // a take-back: counted as not found
			}
			found++
			if w.DoubtSlow {
				continue
			}
			sure++
			if math.Abs(w.Slow/clip.Stretch-1) > 0.05 {
				t.Errorf("seed %d: slowed %.2f times, made %.0f", seed, w.Slow, clip.Stretch)
			}
		}
	}
	if found < n-1 || sure < n/2 {
		t.Errorf("%d of %d found, %d of them sure", found, n, sure)
	}
}

func TestTrueTimeStaysTrueTime(t *testing.T) {
	for _, c := range []synth.Condition{synth.Phone, synth.BodyOnly, synth.ImageOnly} {
		for seed := range uint64(4) {
			clip := oneSwing(c, body.Forehand, 400+seed)
			clip.Setup.Cameras[0].SlowMotion, clip.Setup.Cameras[0].CaptureRate = 0, 0
			for _, w := range windowsOf(t, clip.Setup, clip.Frames) {
				if w.Slow != 1 || w.DoubtSlow || w.DenySlow {
					t.Errorf("%c seed %d: slowed %.2f times, doubt %v, denied %v", c, seed, w.Slow, w.DoubtSlow, w.DenySlow)
				}
			}
		}
	}
}

func TestAStatedCaptureRateTellsTheFactor(t *testing.T) {
	for seed := range uint64(3) {
		clip := oneSwing(synth.SlowMotion, body.Forehand, 500+seed)
		clip.Setup.Cameras[0].CaptureRate = clip.Rate
		ws := windowsOf(t, clip.Setup, clip.Frames)
		if len(ws) != 1 || ws[0].Slow != clip.Stretch {
			t.Errorf("seed %d: %+v, want one swing slowed %g times", seed, ws, clip.Stretch)
		}
	}
}

// The swings of a clip that turns out to be slowed were found before anybody knew, and
// what was called then is taken back: each is called again as it is handed over, once.
func TestEverySwingOfASlowClipIsCalled(t *testing.T) {
	swings := 0
	for seed := range uint64(3) {
		clip := synth.Sample(synth.SlowMotion, 4, 940+seed)
		w := watchClip(t, clip.Setup, clip.Frames)
		s := score{clip: &clip, w: w}
		calls := w.still()
		for k := range w.swings {
			swings++
			near := 0
			for _, h := range calls {
				if h.Kind == phase.Contact && math.Abs(clip.Real(float64(h.TimeUS))-s.at(k)) < 0.3 {
					near++
				}
			}
			if near != 1 {
				t.Errorf("seed %d: %d calls stand for the swing at %.2f s", seed, near, s.at(k))
			}
		}
	}
	if swings < 4 {
		t.Errorf("only %d swings", swings)
	}
}
