package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/geom"
)

// TestFlightSumsAreOneMatrix holds the solve by parts against the nine unknowns at once.
func TestFlightSumsAreOneMatrix(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	vector := func() geom.Vec3 {
		return geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
	}
	const damping = 0.3
	q := flightSums{place: diagonal(2), v: [2]sym3{diagonal(1), diagonal(3)}}
	a := mat.NewSymDense(9, nil)
	for i, v := range []float64{2, 2, 2, 1, 1, 1, 3, 3, 3} {
		a.SetSym(i, i, v)
	}
	y := mat.NewVecDense(9, nil)
	for range 12 {
		side, gain, c, pull, w := rng.IntN(2), rng.Float64(), vector(), vector(), rng.Float64()
		var info sym3
		addOuter(&info, c, 1.5)
		q.add(side, gain, &info, pull, w)
		row := mat.NewVecDense(9, nil)
		for k, v := range [3]float64{c.X, c.Y, c.Z} {
			row.SetVec(k, v)
			row.SetVec(3+3*side+k, gain*v)
		}
		a.SymRankOne(a, 1.5*w, row)
		for k, v := range [3]float64{pull.X, pull.Y, pull.Z} {
			y.SetVec(k, y.AtVec(k)+w*v)
			y.SetVec(3+3*side+k, y.AtVec(3+3*side+k)+w*gain*v)
		}
	}
	for i := range 9 {
		a.SetSym(i, i, (1+damping)*a.At(i, i))
	}
	var ch mat.Cholesky
	var x mat.VecDense
	if !ch.Factorize(a) || ch.SolveVecTo(&x, y) != nil || !q.factor(damping) {
		t.Fatal("not solved")
	}
	got := q.solve([3]geom.Vec3{q.toPlace, q.toV[0], q.toV[1]})
	for i, v := range got {
		want := geom.Vec3{X: x.AtVec(3 * i), Y: x.AtVec(3*i + 1), Z: x.AtVec(3*i + 2)}
		if d := v.Sub(want).Norm(); !(d < 1e-12) {
			t.Errorf("vector %d: %v, want %v", i, v, want)
		}
	}
	if d := q.logDet() - ch.LogDet(); !(math.Abs(d) < 1e-12) {
		t.Errorf("log determinant %.6f, want %.6f", q.logDet(), ch.LogDet())
	}
}
