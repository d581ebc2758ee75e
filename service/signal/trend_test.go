package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

var nan = math.NaN()

func TestTheilSen(t *testing.T) {
	for _, c := range []struct {
		x, y []float64
		want float64
		why  string
	}{
		{[]float64{1, 2, 3, 4, 5}, []float64{1.26, 1.27, 1.12, 1.16, 1.03}, -0.05625, "Hollander & Wolfe, cloud seeding"},
		{[]float64{0, 1, 2, 3}, []float64{0, 2, 4, 100}, 17.666666666666668, "even number of slopes: 2 2 2 33⅓ 49 98"},
		{[]float64{0, 1, 2, 3, 4, 5, 6}, []float64{0, 3, 6, 9, 12, -50, 18}, 3, "one point of seven wrong"},
		{[]float64{0, 1, 2}, []float64{0, nan, 8}, 4, "NaN left out"},
		{[]float64{1, 1}, []float64{0, 1}, nan, "no two x differ"},
		{nil, nil, nan, "nothing"},
	} {
		near(t, c.why, TheilSen(c.x, c.y), c.want, 1e-9)
	}
}

func TestMannKendall(t *testing.T) {
	for _, c := range []struct {
		y    []float64
		s    int
		z, p float64
		why  string
	}{
		{[]float64{12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7}, 54, 2.9058, .00366, "worked by hand, one tie"},
		{[]float64{1, 2, 3, 4}, 6, 1.6984, 2. / 24, "exact: 2 of 24 orders are as extreme"},
		{[]float64{3, 1, 2}, -1, 0, 1, "exact: all of 6 orders are as extreme"},
		{[]float64{5, 5, 5, 5}, 0, 0, 1, "all tied"},
		{[]float64{1, nan, 2, 3, 4}, 6, 1.6984, 2. / 24, "NaN left out"},
		{[]float64{1, 2}, 1, 0, 1, "too short"},
	} {
		s, z, p := MannKendall(c.y)
		near(t, c.why+": S", float64(s), float64(c.s), 0)
		near(t, c.why+": z", z, c.z, 5e-5)
		near(t, c.why+": p", p, c.p, 5e-6)
	}
}

// The exact p is the share of shuffles at least as extreme.
func TestExactTrendAgainstShuffles(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	y := []float64{1, 2, 3, 4, 5, 6, 7}
	const rounds = 20000
	count := 0
	for range rounds {
		rng.Shuffle(len(y), func(i, j int) { y[i], y[j] = y[j], y[i] })
		if s, _, _ := MannKendall(y); abs(s) >= 11 {
			count++
		}
	}
	near(t, "P(|S| ≥ 11), n 7", exactTrendP(7, 11), float64(count)/rounds, .01)
}

func TestBenjaminiHochberg(t *testing.T) {
	// The 15 p-values of Benjamini & Hochberg 1995, §2.4: q .05 rejects the first four.
	p := []float64{.0001, .0004, .0019, .0095, .0201, .0278, .0298, .0344, .0459, .3240, .4262, .5719, .6528, .7590, 1}
	for i, r := range BenjaminiHochberg(p, .05) {
		if r != (i < 4) {
			t.Errorf("p %v rejected: %v", p[i], r)
		}
	}
	got := BenjaminiHochberg([]float64{.04, nan, .02}, .05)
	if got[0] || got[1] || got[2] {
		t.Errorf("three tests, one NaN: %v; NaN counts, so .02 > .05/3", got)
	}
	if len(BenjaminiHochberg(nil, .05)) != 0 {
		t.Error("no p-values, yet a verdict")
	}
}
