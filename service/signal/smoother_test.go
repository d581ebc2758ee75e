package signal

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// readings is a made course with noise at uneven times, some samples missing,
// two at the same instant, sds of two kinds.
func readings(n int, seed uint64) []Sample {
	t, y := unevenWave(n, 0, seed)
	rng := rand.New(rand.NewPCG(seed, 2))
	z := make([]Sample, n)
	for i := range z {
		sd := .01 + .01*float64(i%2)
		z[i] = Sample{Time: t[i], Value: 5 + y[i] + sd*rng.NormFloat64(), SD: sd}
		if rng.IntN(5) == 0 {
			z[i].Value = nan
		}
	}
	z[n/2].Time = z[n/2-1].Time
	return z
}

// batch is the slow plain oracle: all states at once by dense least squares,
// one row for every reading over its sd and three for every step over the
// Cholesky factor of its noise. Readings at the same instant share a state.
func batch(samples []Sample, q float64) []State {
	index, times := []int{}, []float64{}
	for i, z := range samples {
		if i == 0 || z.Time > samples[i-1].Time {
			times = append(times, z.Time)
		}
		index = append(index, len(times)-1)
	}
	n := len(times)
	rows := len(samples) + 3*(n-1)
	a, b := mat.NewDense(rows, 3*n, nil), mat.NewVecDense(rows, nil)
	for i, z := range samples {
		if z.seen() {
			a.Set(i, 3*index[i], 1/z.SD)
			b.SetVec(i, z.Value/z.SD)
		}
	}
	for k := 1; k < n; k++ {
		h := times[k] - times[k-1]
		_, noise := transition(h, q)
		var chol mat.Cholesky
		if !chol.Factorize(mat.NewSymDense(3, noise[:])) {
			panic("noise not positive definite")
		}
		var lower mat.TriDense
		chol.LTo(&lower)
		step := mat.NewDense(3, 6, []float64{-1, -h, -h * h / 2, 1, 0, 0, 0, -1, -h, 0, 1, 0, 0, 0, -1, 0, 0, 1})
		var white mat.Dense
		if err := white.Solve(&lower, step); err != nil {
			panic(err)
		}
		a.Slice(len(samples)+3*(k-1), len(samples)+3*k, 3*(k-1), 3*(k+1)).(*mat.Dense).Copy(&white)
	}
	var qr mat.QR
	qr.Factorize(a)
	var x mat.VecDense
	if err := qr.SolveVecTo(&x, false, b); err != nil {
		panic(err)
	}
	var r, inv, cov mat.Dense
	qr.RTo(&r)
	if err := inv.Inverse(r.Slice(0, 3*n, 0, 3*n)); err != nil {
		panic(err)
	}
	cov.Mul(&inv, inv.T())
	states := make([]State, len(samples))
	for i, k := range index {
		states[i] = State{Pos: x.AtVec(3 * k), Vel: x.AtVec(3*k + 1), Acc: x.AtVec(3*k + 2)}
		for r := range 3 {
			for c := range 3 {
				states[i].Cov[3*r+c] = cov.At(3*k+r, 3*k+c)
			}
		}
	}
	return states
}

func TestSmootherAgainstBatch(t *testing.T) {
	for seed := range uint64(4) {
		for _, q := range []float64{1e2, 1e5, 1e8} {
			samples := readings(60, seed)
			var s Smoother
			got, err := s.Smooth(samples, q)
			if err != nil {
				t.Fatal(err)
			}
			want := batch(samples, q)
			sd := func(k, i int) float64 { return math.Sqrt(want[k].Cov[4*i]) }
			for k, w := range want {
				near(t, "position", got[k].Pos, w.Pos, 1e-8)
				near(t, "velocity", got[k].Vel, w.Vel, 1e-8*max(1, math.Abs(w.Vel)))
				near(t, "acceleration", got[k].Acc, w.Acc, 1e-8*max(100, math.Abs(w.Acc)))
				for i := range 9 {
					near(t, "covariance", got[k].Cov[i], w.Cov[i], 1e-8*sd(k, i/3)*sd(k, i%3)*100)
				}
			}
		}
	}
}

// With equal sds the smoother is the quintic spline with λ = sd²/q (Wahba 1978).
func TestSmootherIsQuinticSpline(t *testing.T) {
	const sd, q = .02, 1e5
	times, y := unevenWave(50, sd, 11)
	samples := make([]Sample, len(y))
	for i := range y {
		samples[i] = Sample{times[i], y[i], sd}
	}
	var s Smoother
	got, err := s.Smooth(samples, q)
	if err != nil {
		t.Fatal(err)
	}
	spline, err := FitSpline(times, y, nil, 3, sd*sd/q)
	if err != nil {
		t.Fatal(err)
	}
	for i, x := range got {
		g, g1, g2 := spline.At(times[i])
		near(t, "position", x.Pos, g, 1e-9)
		near(t, "velocity", x.Vel, g1, 1e-7)
		near(t, "acceleration", x.Acc, g2, 1e-4)
	}
}

// denseLikelihood is the slow plain oracle of LogLikelihood: the samples are
// a parabola of unknown coefficients plus Gaussian noise with covariance
// q·kernel + sd², the coefficients integrated out.
func denseLikelihood(samples []Sample, q float64) float64 {
	z := slices.DeleteFunc(slices.Clone(samples), func(z Sample) bool { return !z.seen() })
	n := len(z)
	v, x, y := mat.NewSymDense(n, nil), mat.NewDense(n, 3, nil), mat.NewVecDense(n, nil)
	at := func(i int) float64 { return z[i].Time - samples[0].Time }
	for i := range n {
		for j := i; j < n; j++ {
			v.SetSym(i, j, q*kernel(at(i), at(j), 3, 0))
		}
		v.SetSym(i, i, v.At(i, i)+z[i].SD*z[i].SD)
		for k := range 3 {
			x.Set(i, k, math.Pow(at(i), float64(k))/factorial(k))
		}
		y.SetVec(i, z[i].Value)
	}
	var chol, inner mat.Cholesky
	chol.Factorize(v)
	var vx, xvx mat.Dense
	var vy, xvy, d mat.VecDense
	if chol.SolveTo(&vx, x) != nil || chol.SolveVecTo(&vy, y) != nil {
		panic("singular")
	}
	xvx.Mul(x.T(), &vx)
	xvy.MulVec(x.T(), &vy)
	sym := mat.NewSymDense(3, nil)
	for i := range 3 {
		for j := range 3 {
			sym.SetSym(i, j, xvx.At(i, j))
		}
	}
	inner.Factorize(sym)
	if inner.SolveVecTo(&d, &xvy) != nil {
		panic("singular")
	}
	quad := mat.Dot(y, &vy) - mat.Dot(&xvy, &d)
	return -.5 * (float64(n-3)*math.Log(2*math.Pi) + chol.LogDet() + inner.LogDet() + quad)
}

func TestLikelihoodAgainstDense(t *testing.T) {
	for _, q := range []float64{1e3, 1e5, 1e7} {
		samples := readings(40, 21)
		var s Smoother
		if _, err := s.Smooth(samples, q); err != nil {
			t.Fatal(err)
		}
		near(t, "log-likelihood", s.LogLikelihood(), denseLikelihood(samples, q), 1e-5)
	}
}

// driven draws a course from the model itself.
func driven(n int, q, sd float64, seed uint64) ([]Sample, []State) {
	rng := rand.New(rand.NewPCG(seed, 3))
	const fine, dt = 20, 1. / 120
	var x State
	samples, truth := make([]Sample, n), make([]State, n)
	for k := range n {
		samples[k] = Sample{float64(k) * dt, x.Pos + sd*rng.NormFloat64(), sd}
		truth[k] = x
		for range fine {
			h := dt / fine
			jerk := math.Sqrt(q/h) * rng.NormFloat64()
			x.Pos += x.Vel*h + x.Acc*h*h/2 + jerk*h*h*h/6
			x.Vel += x.Acc*h + jerk*h*h/2
			x.Acc += jerk * h
		}
	}
	return samples, truth
}

func TestFitFindsNoiseAndJerk(t *testing.T) {
	var s Smoother
	var logQ, logSD []float64
	for seed := range uint64(20) {
		samples, _ := driven(240, 1e6, .01, seed)
		for i := range samples {
			samples[i].SD = .004 // as claimed; the truth is 2.5 times that
		}
		q, scale, err := s.Fit(samples)
		if err != nil {
			t.Fatal(err)
		}
		logQ, logSD = append(logQ, math.Log(q/1e6)), append(logSD, math.Log(scale*.004/.01))
	}
	near(t, "mean of ln q", Mean(logQ), 0, .3)
	near(t, "spread of ln q", SD(logQ), 0, 1)
	near(t, "mean of ln sd", Mean(logSD), 0, .03)
	near(t, "spread of ln sd", SD(logSD), 0, .1)
}

// The covariance is honest: squared errors over variances average 1.
func TestCovarianceIsHonest(t *testing.T) {
	var s Smoother
	var pos, vel, acc []float64
	for seed := range uint64(30) {
		samples, truth := driven(120, 1e6, .01, 100+seed)
		got, err := s.Smooth(samples, 1e6)
		if err != nil {
			t.Fatal(err)
		}
		for k := 0; k < len(got); k += 10 {
			g, w := got[k], truth[k]
			pos = append(pos, (g.Pos-w.Pos)*(g.Pos-w.Pos)/g.Cov[0])
			vel = append(vel, (g.Vel-w.Vel)*(g.Vel-w.Vel)/g.Cov[4])
			acc = append(acc, (g.Acc-w.Acc)*(g.Acc-w.Acc)/g.Cov[8])
		}
	}
	near(t, "position", Mean(pos), 1, .25)
	near(t, "velocity", Mean(vel), 1, .25)
	near(t, "acceleration", Mean(acc), 1, .25)
}

func TestSmootherProperties(t *testing.T) {
	samples := readings(50, 31)
	n := len(samples)
	var s, other Smoother
	want, _ := s.Smooth(samples, 1e5)
	shifted, reversed, scaled := slices.Clone(samples), make([]Sample, n), slices.Clone(samples)
	for i, z := range samples {
		shifted[i].Time += 1000
		reversed[n-1-i] = Sample{-z.Time, z.Value, z.SD}
		scaled[i].Value, scaled[i].SD = 7*z.Value, 7*z.SD
	}
	got, _ := other.Smooth(shifted, 1e5)
	for i := range want {
		near(t, "velocity, times shifted", got[i].Vel, want[i].Vel, 1e-6)
	}
	got, _ = other.Smooth(reversed, 1e5)
	for i := range want {
		near(t, "velocity, time reversed", -got[n-1-i].Vel, want[i].Vel, 1e-9)
		near(t, "its variance", got[n-1-i].Cov[4]/want[i].Cov[4], 1, 1e-8)
	}
	got, _ = other.Smooth(scaled, 49e5)
	for i := range want {
		near(t, "acceleration, unit changed", got[i].Acc/7, want[i].Acc, 1e-6)
	}
}

func TestSmootherRefuses(t *testing.T) {
	at := func(times ...float64) []Sample {
		z := make([]Sample, len(times))
		for i, v := range times {
			z[i] = Sample{v, float64(i), 1}
		}
		return z
	}
	var s Smoother
	for _, c := range []struct {
		z   []Sample
		q   float64
		why string
	}{
		{nil, 1, "nothing"},
		{at(0, 1), 1, "two samples"},
		{at(0, 0, 1), 1, "two instants"},
		{at(0, 2, 1), 1, "time falls"},
		{at(0, nan, 2, 3), 1, "NaN time"},
		{at(0, 1, 2), -1, "negative q"},
		{at(0, 1, 2), nan, "NaN q"},
		{[]Sample{{0, nan, 1}, {1, 1, 0}, {2, 1, 1}, {3, math.Inf(1), 1}, {4, 1, 1}}, 1, "mostly missing"},
	} {
		if _, err := s.Smooth(c.z, c.q); err == nil {
			t.Errorf("%s: accepted", c.why)
		}
	}
	if _, _, err := s.Fit(at(0, 1, 2, 3, 4, 5, 6)); err == nil {
		t.Error("fitted two figures to seven samples")
	}
	if _, err := s.Smooth(at(0, 1, 2), 0); err != nil {
		t.Error("a parabola through three samples was refused")
	}
}

func TestSmootherDoesNotAllocate(t *testing.T) {
	samples := readings(100, 41)
	var s Smoother
	run := func() {
		if _, err := s.Smooth(samples, 1e5); err != nil {
			t.Fatal(err)
		}
	}
	run()
	if n := testing.AllocsPerRun(10, run); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

// floats reads eight bytes a number, as a fuzzer would have them.
func floats(b []byte) []float64 {
	var x []float64
	for ; len(b) >= 8; b = b[8:] {
		x = append(x, math.Float64frombits(binary.LittleEndian.Uint64(b)))
	}
	return x
}

func seedBytes(x ...float64) []byte {
	var b []byte
	for _, v := range x {
		b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
	}
	return b
}

func FuzzSmoother(f *testing.F) {
	f.Add(seedBytes(0, 1, 1, 1, 2, 1, 2, 3, 1), 1.)
	f.Add(seedBytes(0, 1, 1, 0, 2, 1, 0, 3, 1), 1e5)
	f.Add(seedBytes(0, nan, 1, 1, 2, 0, 2, 3, 1, nan, 1, 1), nan)
	f.Add(seedBytes(0, 1, 1e-300, 1e-300, 2, 1e300, 1e300, 3, 1, 1e308, 1, 1), 1e300)
	f.Fuzz(func(t *testing.T, b []byte, q float64) {
		x := floats(b)
		var samples []Sample
		for ; len(x) >= 3; x = x[3:] {
			samples = append(samples, Sample{x[0], x[1], x[2]})
		}
		var s Smoother
		states, err := s.Smooth(samples, q)
		if err == nil && len(states) != len(samples) {
			t.Errorf("%d states for %d samples", len(states), len(samples))
		}
		for _, x := range states {
			if !finite(x.Pos) || !finite(x.Vel) || !finite(x.Acc) {
				t.Errorf("state %v", x)
			}
		}
		if q, scale, err := s.Fit(samples); err == nil && !(finite(q) && finite(scale)) {
			t.Errorf("fitted q %v, scale %v", q, scale)
		}
	})
}

// Nothing that takes arrays may panic, whatever they hold.
func FuzzSeries(f *testing.F) {
	f.Add(seedBytes(1, 2, 3, 4, 5, 6, 7, 8), seedBytes(1, 1, 2, 2, 3, 4, 5), 10., 2)
	f.Add(seedBytes(nan, math.Inf(1), -1), seedBytes(0), 0., -1)
	f.Fuzz(func(t *testing.T, a, b []byte, rate float64, k int) {
		x, y := floats(a), floats(b)
		if len(x) > 200 || len(y) > 200 {
			return
		}
		TheilSen(x, y)
		MannKendall(x)
		BenjaminiHochberg(x, rate)
		MAD(x)
		DTW(x, y, k)
		CUSUM(x, rate, rate)
		EWMA(x, rate, rate)
		Individuals(x)
		BlandAltman(x, y)
		Agree([][]float64{x, y})
		Parabola(x, rate, k)
		FivePoint(x, rate)
		ResidualCutoff(x, rate)
		if got := ZeroLag(x, rate/7, rate); len(got) != len(x) {
			t.Errorf("%d samples became %d", len(x), len(got))
		}
		if s, err := FitSplineGCV(x, y, nil, 3); err == nil {
			s.At(rate)
		}
	})
}
