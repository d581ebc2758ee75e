package track

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestFivesAreWhatRowsAre sets bands that are worked on five rows at a time against the
// same ones worked on row by row.
func TestFivesAreWhatRowsAre(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 25))
	for _, hb := range []int{19, 24, 30} {
		const n = 5 * 17
		var a, b band
		a.reset(n, hb)
		b.reset(n+1, hb) // not of fives
		for i := range n {
			for j := max(0, i-hb); j <= i; j++ {
				if v := rng.NormFloat64(); i/5-j/5 < hb/5 && (i/5 == j/5 || v > -0.5) { // with zeros before rows' first elements
					a.add(i, j, v)
					b.add(i, j, v)
				}
			}
			a.add(i, i, 40)
			b.add(i, i, 40)
		}
		b.add(n, n, 1)
		if !a.factor() || !b.factor() {
			t.Fatal("not positive definite")
		}
		if !a.fives || b.fives {
			t.Fatal("bands are not what they should be")
		}
		z := make([]float64, n)
		for i := range z {
			z[i] = rng.NormFloat64()
		}
		x, y := slices.Clone(z), append(slices.Clone(z), 0)
		a.solve(x)
		b.solve(y)
		p, q := make([]float64, n), make([]float64, n+1)
		a.multiply(z, p)
		b.multiply(append(slices.Clone(z), 0), q)
		for i := range z {
			if math.Abs(x[i]-y[i]) > 1e-12 || math.Abs(p[i]-q[i]) > 1e-11 {
				t.Errorf("half-bandwidth %d, row %d: %g and %g solved, %g and %g multiplied", hb, i, x[i], y[i], p[i], q[i])
			}
		}
		var four, rows [4][]float64
		for k := range four {
			four[k] = make([]float64, n)
			for i := range z {
				four[k][i] = rng.NormFloat64()
			}
			rows[k] = append(slices.Clone(four[k]), 0)
		}
		a.forwardFour(four[0], four[1], four[2], four[3])
		b.forwardFour(rows[0], rows[1], rows[2], rows[3])
		a.backwardFour(four[0], four[1], four[2], four[3])
		b.backwardFour(rows[0], rows[1], rows[2], rows[3])
		for k := range four {
			for i, v := range four[k] {
				if math.Abs(v-rows[k][i]) > 1e-12 {
					t.Errorf("half-bandwidth %d, side %d, row %d: %g and %g", hb, k, i, v, rows[k][i])
				}
			}
		}
		if d := a.logDet() - b.logDet(); math.Abs(d) > 1e-10 {
			t.Errorf("half-bandwidth %d: logarithms of the determinant %g apart", hb, d)
		}
	}
}
