package synth_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/synth"
)

// made are the true figures of a few swings of a stroke by players past the beginning.
func made(stroke body.Stroke, n int) (all []map[string]float64) {
	for i := range n {
		level := body.Level(2 + i%3)
		m := synth.NewSwing(synth.Spec{Stroke: stroke, Level: level, Seed: uint64(300 + i)})
		all = append(all, m.Truth(0, true).Measures)
	}
	return all
}

func TestHandsPassBelowTheBallInTopspin(t *testing.T) {
	for _, s := range []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand} {
		for i, v := range made(s, 9) {
			if d := v["path.hand_drop"]; !(d > 0) {
				t.Errorf("%s %d: hands %.3f m above the ball at their lowest", s, i, -d)
			}
		}
	}
}

func TestLegsRaiseTheHips(t *testing.T) {
	for _, s := range []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.OneHandedBackhand, body.SliceBackhand, body.Serve} {
		for i, v := range made(s, 6) {
			if d := v["legs.rise"]; !(d > 0.002) {
				t.Errorf("%s %d: hips rise %.4f m", s, i, d)
			}
		}
	}
}

// As of recorded strokes: the hitting-side shoulder is low in forehands and high in
// serves, and a little high in backhands.
func TestShouldersTiltAsRecorded(t *testing.T) {
	for s, want := range map[body.Stroke][2]float64{
		body.Forehand: {-40, -3}, body.TwoHandedBackhand: {-6, 25}, body.OneHandedBackhand: {-6, 25}, body.Serve: {25, 50},
	} {
		for i, v := range made(s, 4) {
			if d := v["posture.shoulder_tilt"]; d < want[0] || d > want[1] {
				t.Errorf("%s %d: tilt %.1f°, want %g to %g", s, i, d, want[0], want[1])
			}
		}
	}
}

// spin is the fastest that an elbow goes around the line from shoulder to wrist, m/s.
func spin(m *synth.Motion, shoulder, elbow, wrist body.Point) float64 {
	const step = 0.004
	var last geom.Vec3
	worst := 0.0
	for x := m.Start; x < m.End; x += step {
		p := m.At(x)
		axis := p.P[wrist].Sub(p.P[shoulder]).Unit()
		out := p.P[elbow].Sub(p.P[shoulder])
		out = out.Sub(axis.Scale(out.Dot(axis)))
		if last.Norm() > 0 {
			worst = math.Max(worst, geom.Between(last, out).Radians()*out.Norm()/step)
		}
		last = out
	}
	return worst
}

// Beginners' slow swings with a short toss or preparation used to throw the elbow around
// the arm at 15 to 80 m/s on the way to the trophy; the seeds are of such players.
func TestElbowsDoNotWhirlAroundTheArm(t *testing.T) {
	seeds := map[body.Stroke][]uint64{
		body.Serve:    {14735, 23973, 30452, 10395, 1, 2, 3},
		body.Overhead: {10395, 12193, 14735, 24872, 9031, 10426, 13433, 1, 2, 3},
		body.Forehand: {1, 2}, body.TwoHandedBackhand: {1, 2}, body.OneHandedBackhand: {1, 2},
	}
	for s, list := range seeds {
		for _, seed := range list {
			m := synth.NewSwing(synth.Spec{Stroke: s, Seed: seed})
			for side := range body.Point(2) {
				if v := spin(m, body.LeftShoulder+side, body.LeftElbow+side, body.LeftWrist+side); v > 8 {
					t.Errorf("%s of seed %d: %s whirls at %.0f m/s", s, seed, body.LeftElbow+side, v)
				}
			}
		}
	}
}
