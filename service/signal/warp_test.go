package signal

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The 6×6 example of the dtw package's own tests (Giorgino 2009): ones, with
// row 2 and column 5 zero and .01 where they cross.
func exampleCost(i, j int) float64 {
	switch {
	case i == 1 && j == 4:
		return .01
	case i == 1 || j == 4:
		return 0
	}
	return 1
}

func TestWarpExample(t *testing.T) {
	got := Warp(6, 6, 2, -1, exampleCost)
	near(t, "distance", got.Distance, 2, 1e-12)
	near(t, "normalised", got.Normalised, 2./12, 1e-12)
	// The package's path steps aside where ours goes diagonally at equal cost.
	theirs := []Pair{{0, 0}, {1, 0}, {1, 1}, {1, 2}, {1, 3}, {2, 4}, {3, 4}, {4, 4}, {5, 4}, {5, 5}}
	near(t, "cost along the published path", along(theirs, exampleCost), 2, 1e-12)
	near(t, "cost along ours", along(got.Path, exampleCost), 2, 1e-12)
	if !slices.Equal(got.Path[1:], theirs[2:]) {
		t.Errorf("path %v", got.Path)
	}
}

func TestDTW(t *testing.T) {
	for _, c := range []struct {
		a, b     []float64
		diagonal float64
		want     float64
	}{
		{[]float64{1, 2, 3}, []float64{2, 2, 2, 3, 4}, 1, 2},
		{[]float64{0, 0, 1, 2, 1, 0, 1, 0, 0}, []float64{0, 1, 2, 0, 0, 0, 0, 0, 0}, 1, 2},
		{[]float64{1, 2, 3}, []float64{1, 2, 3}, 2, 0},
		{nil, []float64{1}, 2, nan},
	} {
		got := Warp(len(c.a), len(c.b), c.diagonal, -1, func(i, j int) float64 { return math.Abs(c.a[i] - c.b[j]) })
		near(t, "distance", got.Distance, c.want, 1e-12)
	}
}

// Slow plain oracle: try every path.
func cheapest(n, m, i, j int, diagonal float64, cost func(i, j int) float64) float64 {
	if i == n-1 && j == m-1 {
		return 0
	}
	best := math.Inf(1)
	if i+1 < n && j+1 < m {
		best = diagonal*cost(i+1, j+1) + cheapest(n, m, i+1, j+1, diagonal, cost)
	}
	if i+1 < n {
		best = min(best, cost(i+1, j)+cheapest(n, m, i+1, j, diagonal, cost))
	}
	if j+1 < m {
		best = min(best, cost(i, j+1)+cheapest(n, m, i, j+1, diagonal, cost))
	}
	return best
}

func TestWarpAgainstEveryPath(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for range 40 {
		n, m := 1+rng.IntN(6), 1+rng.IntN(6)
		a, b := make([]float64, n), make([]float64, m)
		for i := range a {
			a[i] = rng.Float64()
		}
		for j := range b {
			b[j] = rng.Float64()
		}
		cost := func(i, j int) float64 { return math.Abs(a[i] - b[j]) }
		got := DTW(a, b, -1)
		near(t, "DTW", got.Distance, cost(0, 0)+cheapest(n, m, 0, 0, 2, cost), 1e-12)
		back := DTW(b, a, -1)
		near(t, "symmetry", back.Distance, got.Distance, 1e-12)
		near(t, "cost along the path", along(got.Path, cost), got.Distance, 1e-12)
	}
}

func along(path []Pair, cost func(i, j int) float64) float64 {
	sum := cost(0, 0)
	for k := 1; k < len(path); k++ {
		p, q := path[k-1], path[k]
		c := cost(q.I, q.J)
		if q.I > p.I && q.J > p.J {
			c *= 2
		}
		sum += c
	}
	return sum
}

func TestDTWLimits(t *testing.T) {
	a := []float64{0, 0, 0, 1, 0, 0, 0}
	b := []float64{0, 1, 0, 0, 0, 0, 0}
	if d := DTW(a, b, -1).Distance; d != 0 {
		t.Errorf("free warp costs %v", d)
	}
	if d := DTW(a, b, 0).Distance; d != 4 {
		t.Errorf("no warp allowed costs %v, want 4 (two diagonal steps of cost 1)", d)
	}
	if d := DTW([]float64{nan}, b, -1).Distance; !math.IsNaN(d) {
		t.Errorf("NaN series at %v", d)
	}
	if d := DTW(make([]float64, 1<<12), make([]float64, 1<<12), -1); !math.IsNaN(d.Distance) {
		t.Error("a cost matrix beyond the limit was filled")
	}
	if got := DTW(a, slices.Clone(a), 3); len(got.Path) != len(a) {
		t.Errorf("path of equal series: %v", got.Path)
	}
}
