package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestBeliefsDerivatives sets the derivatives of each belief about posture against
// differences of its residual, at places strewn about those of a body.
func TestBeliefsDerivatives(t *testing.T) {
	rng := rand.New(rand.NewPCG(12, 34))
	const step = 1e-6
	for range 200 {
		var lam [liftJoints]float64
		s := stanceAt{up: geom.Vec3{X: 0.1, Y: -1, Z: 0.2}.Unit(), floor: -1.4, stature: 1.8, z0: 8}
		s.fast = [2]float64{rng.Float64(), 2 * rng.Float64()}
		s.slope = [2]float64{0.02, 0.03}
		if rng.IntN(2) == 0 {
			s.net = s.up.Cross(geom.Vec3{X: rng.NormFloat64(), Y: 0.1, Z: rng.NormFloat64()}).Unit()
		}
		for j := range s.ray {
			s.ray[j] = geom.Vec3{X: 0.04 * rng.NormFloat64(), Y: 0.08 * rng.NormFloat64(), Z: 1}
			lam[j] = 8 + 0.3*rng.NormFloat64()
		}
		at := func() {
			for j := range s.p {
				s.p[j] = s.ray[j].Scale(lam[j])
			}
			s.chest, s.belly, s.look = s.face(lsh, rsh), s.face(lhp, rhp), s.face(1, 2)
		}
		for b := range beliefs {
			bel := &beliefs[b]
			var g, none pulls
			at()
			res := bel.of(&s, &g)
			if math.Abs(res) > 1e3 {
				continue
			}
			for _, p := range bel.joints {
				keep := lam[p]
				lam[p] = keep + step
				at()
				up := bel.of(&s, &none)
				lam[p] = keep - step
				at()
				down := bel.of(&s, &none)
				lam[p] = keep
				if want := (up - down) / (2 * step); math.Abs(g[p]-want) > 1e-4*(1+math.Abs(want)) && math.Abs(up-down) < 1 { // not where an angle goes over ±180°
					t.Errorf("belief %d, joint %d: derivative %.6g, by difference %.6g", b, p, g[p], want)
				}
				g[p] = 0
			}
			if g != (pulls{}) {
				t.Errorf("belief %d hangs on joints that it does not name", b)
			}
		}
	}
}
