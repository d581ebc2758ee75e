package swing_test

import (
	"fmt"
	"os"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

// courseFromMotion samples a made motion exactly, with its own break.
func courseFromMotion(m *synth.Motion) *track.Course {
	s := m.Struck[0]
	c := &track.Course{}
	const h = 0.004
	for t := s.Contact - 0.0005; t > max(m.Start, s.Contact-2.3)+h; t -= h {
		c.T = append([]float64{t}, c.T...)
	}
	c.Break = len(c.T) - 1
	for t := s.Contact + 0.006; t < m.End-h; t += h {
		c.T = append(c.T, t)
	}
	for _, t := range c.T {
		p := m.At(t)
		a, b := m.At(t-0.0005), m.At(t+0.0005)
		for k := range body.NumPoints {
			if k == body.Ball {
				continue
			}
			c.Has[k] = true
			c.Pos[k] = append(c.Pos[k], p.P[k])
			c.Vel[k] = append(c.Vel[k], b.P[k].Sub(a.P[k]).Scale(1000))
		}
		u := p.P[body.RacketTip].Sub(p.P[body.RacketButt]).Unit()
		c.Axis = append(c.Axis, u)
		c.Grip = append(c.Grip, p.P[body.RacketButt].Add(u.Scale(0.1)))
		c.Center = append(c.Center, p.P[body.RacketTip].Add(p.P[body.RacketThroat]).Scale(0.5))
	}
	c.HasRacket = true
	c.Ball = track.Flight{Release: s.Release, SpeedIn: s.In.Norm()}
	return c
}

func TestSurveyMadeFeatures(t *testing.T) {
	if os.Getenv("SURVEY") == "" {
		t.Skip("a look at the features, on demand")
	}
	for st := body.Forehand; st < body.NumStrokes; st++ {
		for seed := range uint64(8) {
			m := synth.NewSwing(synth.Spec{Stroke: st, Seed: seed, Hand: body.RightHanded})
			c := courseFromMotion(m)
			stroke, hand, sure := swing.Classify(c, swing.Setup{})
			fmt.Printf("%-18s synth %-3d %v\n   %v %d %.2f\n", st, seed, swing.FeaturesOf(c, body.RightHanded), stroke, hand, sure)
		}
	}
}

// TestMadeStrokesAreNamed names strokes from their exact motion, hand not given.
func TestMadeStrokesAreNamed(t *testing.T) {
	wrong, all := 0, 0
	for st := body.Forehand; st < body.NumStrokes; st++ {
		for seed := range uint64(10) {
			for _, hand := range []body.Hand{body.RightHanded, body.LeftHanded} {
				c := courseFromMotion(synth.NewSwing(synth.Spec{Stroke: st, Seed: seed + 50, Hand: hand}))
				all++
				if stroke, h, sure := swing.Classify(c, swing.Setup{}); stroke != st || h != hand {
					wrong++
					t.Logf("seed %d: %v, hand %d named %v, hand %d (%.2f)\n%v", seed, st, hand, stroke, h, sure, swing.FeaturesOf(c, hand))
				}
			}
		}
	}
	if 50*wrong > all {
		t.Errorf("%d of %d named wrong, at most 2 %%", wrong, all)
	}
}
