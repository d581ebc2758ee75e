package signal

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// unevenWave is a made signal with noise, at uneven times.
func unevenWave(n int, noise float64, seed uint64) (t, y []float64) {
	rng := rand.New(rand.NewPCG(seed, 1))
	now := 2.0
	for range n {
		now += .004 + .008*rng.Float64()
		t = append(t, now)
		y = append(y, math.Sin(9*now)+.3*math.Cos(17*now)+noise*rng.NormFloat64())
	}
	return t, y
}

// denseSpline is the slow plain oracle: the same spline as polynomial plus a
// dense combination of Wahba's kernel ∫ (s−v)₊^(m−1)·(t−v)₊^(m−1)/(m−1)!² dv,
// from one dense linear system. Times are taken from the first sample.
type denseSpline struct {
	t       []float64
	m       int
	c, d    []float64
	freedom float64
}

// kernel is the r-th derivative in s of the kernel, by exact quadrature.
func kernel(s, t float64, m, r int) float64 {
	if r > m-1 {
		return math.Pow(math.Max(t-s, 0), float64(m-1)) / factorial(m-1)
	}
	top, sum := math.Min(s, t), 0.0
	for _, g := range gauss3 {
		v := g.at * top
		sum += g.weight * top * math.Pow(s-v, float64(m-1-r)) / factorial(m-1-r) * math.Pow(t-v, float64(m-1)) / factorial(m-1)
	}
	return sum
}

func fitDense(times, y, w []float64, m int, lambda float64) denseSpline {
	n := len(times)
	t := make([]float64, n)
	a, rhs := mat.NewDense(n+m, n+m, nil), mat.NewVecDense(n+m, nil)
	for i := range t {
		t[i] = times[i] - times[0]
	}
	for i := range n {
		for j := range n {
			a.Set(i, j, kernel(t[i], t[j], m, 0))
		}
		a.Set(i, i, a.At(i, i)+lambda/w[i])
		for k := range m {
			a.Set(i, n+k, math.Pow(t[i], float64(k)))
			a.Set(n+k, i, math.Pow(t[i], float64(k)))
		}
		rhs.SetVec(i, y[i])
	}
	var x, inv mat.Dense
	if err := x.Solve(a, rhs); err != nil {
		panic(err)
	}
	if err := inv.Inverse(a); err != nil {
		panic(err)
	}
	f := denseSpline{t: t, m: m, freedom: float64(n)}
	for i := range n {
		f.c = append(f.c, x.At(i, 0))
		f.freedom -= lambda / w[i] * inv.At(i, i) // y − g = λ·W⁻¹·c
	}
	for k := range m {
		f.d = append(f.d, x.At(n+k, 0))
	}
	return f
}

// at is derivative r in {0, 1, 2}.
func (f denseSpline) at(t float64, r int) float64 {
	sum := 0.0
	for k := r; k < f.m; k++ {
		sum += f.d[k] * factorial(k) / factorial(k-r) * math.Pow(t, float64(k-r))
	}
	for i, c := range f.c {
		sum += c * kernel(t, f.t[i], f.m, r)
	}
	return sum
}

func TestSplineAgainstDenseSystem(t *testing.T) {
	for _, m := range []int{2, 3} {
		for _, lambda := range []float64{1e-9, 1e-7, 1e-4} {
			times, y := unevenWave(40, .05, uint64(m))
			w := make([]float64, len(y))
			for i := range w {
				w[i] = 1 + float64(i%3)
			}
			s, err := FitSpline(times, y, w, m, lambda)
			if err != nil {
				t.Fatal(err)
			}
			want := fitDense(times, y, w, m, lambda)
			near(t, "freedom", s.Freedom(), want.freedom, 1e-5)
			near(t, "λ", s.Lambda(), lambda, 1e-12*lambda)
			for i := range 200 {
				x := times[0] + (times[39]-times[0])*float64(i)/199
				g, g1, g2 := s.At(x)
				near(t, "value", g, want.at(x-times[0], 0), 1e-7)
				near(t, "first derivative", g1, want.at(x-times[0], 1), 1e-5)
				near(t, "second derivative", g2, want.at(x-times[0], 2), 1e-3)
			}
		}
	}
}

func TestSplineLimits(t *testing.T) {
	times, y := unevenWave(30, .1, 5)
	tight, _ := FitSpline(times, y, nil, 3, 0)
	for i := range times {
		g, _, _ := tight.At(times[i])
		near(t, "λ 0 passes through the samples", g, y[i], 1e-9)
	}
	// λ → ∞ leaves the least-squares parabola: a parabola stays as it is.
	for i := range times {
		y[i] = 1 + 2*times[i] - 3*times[i]*times[i]
	}
	stiff, _ := FitSpline(times, y, nil, 3, 1e-3)
	for _, x := range []float64{times[0], times[7] + .001, times[29], times[29] + .1, times[0] - .1} {
		g, g1, g2 := stiff.At(x)
		near(t, "parabola", g, 1+2*x-3*x*x, 1e-9)
		near(t, "its slope", g1, 2-6*x, 1e-7)
		near(t, "its curvature", g2, -6, 1e-5)
	}
	near(t, "freedom", stiff.Freedom(), 3, .3)
}

func TestGCVFindsTheNoise(t *testing.T) {
	for _, m := range []int{2, 3} {
		times, y := unevenWave(300, .05, 7)
		s, err := FitSplineGCV(times, y, nil, m)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "noise", s.Noise(), .05, .006)
		worst := 0.0
		for _, x := range times[10:290] {
			_, v, _ := s.At(x)
			worst = max(worst, math.Abs(v-(9*math.Cos(9*x)-5.1*math.Sin(17*x))))
		}
		if worst > 2 {
			t.Errorf("m %d: velocity off by %v of 14", m, worst)
		}
	}
}

func TestSplineRefuses(t *testing.T) {
	ok := []float64{0, 1, 2, 3, 4, 5, 6}
	for _, c := range []struct {
		t, y, w []float64
		m       int
		why     string
	}{
		{ok, ok[:6], nil, 3, "lengths differ"},
		{ok, ok, ok[:3], 3, "weights short"},
		{ok[:6], ok[:6], nil, 3, "too few"},
		{ok, ok, nil, 4, "order"},
		{[]float64{0, 1, 1, 3, 4, 5, 6}, ok, nil, 3, "zero step"},
		{[]float64{0, 1, nan, 3, 4, 5, 6}, ok, nil, 3, "NaN time"},
		{ok, []float64{0, 1, nan, 3, 4, 5, 6}, nil, 3, "NaN value"},
		{ok, ok, []float64{1, 1, 0, 1, 1, 1, 1}, 3, "zero weight"},
		{make([]float64, 7), ok, nil, 3, "no duration"},
	} {
		if _, err := FitSplineGCV(c.t, c.y, c.w, c.m); err == nil {
			t.Errorf("%s: accepted", c.why)
		}
	}
	if _, err := FitSpline(ok, ok, nil, 3, -1); err == nil {
		t.Error("negative λ accepted")
	}
	s, _ := FitSpline(ok, ok, nil, 3, 1)
	if g, _, _ := s.At(nan); !math.IsNaN(g) {
		t.Error("NaN time has a value")
	}
}
