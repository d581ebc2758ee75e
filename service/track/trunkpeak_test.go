package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Shoulders that turn by 100°, fastest at 1.95 s, tell of impact by the lead that holds for what
// the hands do: the hitting shoulder comes forward, or goes back, or both hands hold the racket.
func TestTheTrunkTellsOfImpact(t *testing.T) {
	const fastest = 1.95
	for _, x := range []struct {
		name         string
		way          float64 // of the turn: 1 brings the right shoulder forward
		over, closed bool
		want         lead
	}{
		{"forehand", 1, false, false, trunkLead},
		{"serve", 1, true, false, overLead},
		{"one-handed backhand", -1, false, false, backLead},
		{"both hands", 1, false, true, backLead},
	} {
		for _, sd := range []float64{0, 0.01} {
			hand := func(float64) geom.Vec3 { return geom.Vec3{X: 0.4, Y: 1.1, Z: 0.3} }
			m, _, w := standing(hand, hand, 0)
			rng := rand.New(rand.NewPCG(9, 4))
			for p, side := range map[body.Point]float64{body.LeftShoulder: -0.2, body.RightShoulder: 0.2} {
				for i := range m.sights[p] {
					s := &m.sights[p][i]
					a := -x.way * 50 * math.Pi / 180 * math.Tanh((s.t-fastest)/0.06)
					n := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(sd)
					s.p = geom.Vec3{X: side * -math.Sin(a), Y: 1.45, Z: side * math.Cos(a)}.Add(n)
				}
			}
			hands := []peak{{p: body.RightWrist, q: w}}
			if x.closed {
				hands = append(hands, peak{p: body.LeftWrist, q: w})
			}
			at, by, ok := m.byTrunk(hands, 0, fastest+0.05, x.over)
			if want := fastest + x.want.mean; !ok || math.Abs(at-want) > 0.015 {
				t.Errorf("%s, noise %g: %.4f %v, want %.4f", x.name, sd, at, ok, want)
			}
			if !(by > x.want.sd) || by > x.want.sd+0.01 {
				t.Errorf("%s, noise %g: sd %.4f, want a little over %.4f", x.name, sd, by, x.want.sd)
			}
			if at, _, ok := m.byTrunk(hands, 0, fastest+0.5, x.over); ok {
				t.Errorf("%s: impact at %.3f by a turn half a second before the hand's", x.name, at)
			}
			m.method = "image_plane"
			if _, _, ok := m.byTrunk(hands, 0, fastest+0.05, x.over); ok {
				t.Errorf("%s: an image alone tells", x.name)
			}
		}
	}
}
