package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// standing is a scene of a body alone about 2 s: hips and shoulders at rest half a metre
// apart, an elbow and a wrist of the right arm that move as told, seen at 60 Hz.
func standing(elbow, wrist func(t float64) geom.Vec3, sd float64) (*scene, *grid, *path) {
	rng := rand.New(rand.NewPCG(5, 2))
	m := &scene{w: &Window{Guess: 2, GuessSD: 0.05}, rough: roughOf}
	see := func(of func(float64) geom.Vec3) (s []sight) {
		for k := range 180 {
			t := float64(k) / 60
			n := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(sd)
			s = append(s, sight{kind: place, t: t, p: of(t).Add(n), sd: math.Max(sd, 0.005), w: 1})
		}
		return s
	}
	at := func(p geom.Vec3) func(float64) geom.Vec3 { return func(float64) geom.Vec3 { return p } }
	m.sights[body.LeftHip], m.sights[body.RightHip] = see(at(geom.Vec3{Y: 0.95, Z: -0.1})), see(at(geom.Vec3{Y: 0.95, Z: 0.1}))
	m.sights[body.LeftShoulder], m.sights[body.RightShoulder] = see(at(geom.Vec3{Y: 1.45, Z: -0.2})), see(at(geom.Vec3{Y: 1.45, Z: 0.2}))
	m.sights[body.RightElbow], m.sights[body.RightWrist] = see(elbow), see(wrist)
	g := newUniform(m.w.Guess, 0.01, 60, 40)
	return m, g, m.follow(g, body.RightWrist, rough{level: roughOf[groupWrist].level, width: 0.2, floor: 0.2, jump: 0.05})
}

// A hand that swings past its shoulder, from half a metre behind to as much ahead, is
// metAhead of half a metre ahead at an instant that is known.
func TestAHandMeetsTheBallAheadOfItsShoulder(t *testing.T) {
	hand := func(at float64) geom.Vec3 {
		return geom.Vec3{X: 0.5 * math.Tanh((at-2)/0.1), Y: 1.1, Z: 0.6}
	}
	want := 2 + 0.1*math.Atanh(metAhead) // 0.5·tanh = metAhead·0.5
	for _, sd := range []float64{0, 0.01} {
		m, _, w := standing(hand, hand, sd)
		got, by, ok := m.byReach(w, body.RightWrist, aim{geom.Vec3{X: 1}, chestDoubt}, 2)
		if !ok || math.Abs(got-want) > 0.012 {
			t.Errorf("noise %g: %.4f ± %.4f %v, want %.4f", sd, got, by, ok, want)
		}
		// tanh' = 1 − metAhead² of 5 m/s, metAheadSD of half a metre: 21 ms
		if s := metAheadSD * 0.5 / (5 * (1 - metAhead*metAhead)); math.Abs(by-s) > 0.25*s {
			t.Errorf("noise %g: sd %.4f, want %.4f", sd, by, s)
		}
		if got, _, ok := m.byReach(w, body.RightWrist, aim{geom.Vec3{X: -1}, chestDoubt}, 2); ok {
			t.Errorf("a hand that goes back meets a ball at %.3f", got)
		}
		if got, _, ok := m.byReach(w, body.RightWrist, aim{geom.Vec3{X: 1}, chestDoubt}, 2.4); ok {
			t.Errorf("met at %.3f, long before the hand is fastest at 2.4", got)
		}
	}
}

func TestTwoEstimatesAreJoinedByTheirWeights(t *testing.T) {
	at, sd := joined(1, 0.02, 2, 0.04) // weights 4 to 1
	if math.Abs(at-1.2) > 1e-12 || math.Abs(sd-0.04/math.Sqrt(5)) > 1e-12 {
		t.Errorf("%g ± %g, want 1.2 ± %g", at, sd, 0.04/math.Sqrt(5))
	}
}
