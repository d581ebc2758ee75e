package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestButterworthCoefficients(t *testing.T) {
	// Winter's worked filter: 6 Hz at 60 Hz (from memory, recomputed).
	f := Butterworth(6, 60)
	near(t, "a0", f.A0, .067455, 5e-7)
	near(t, "a1", f.A1, .134911, 5e-7)
	near(t, "a2", f.A2, .067455, 5e-7)
	near(t, "b1", f.B1, 1.142981, 5e-7)
	near(t, "b2", f.B2, -.412802, 5e-7)
	near(t, "gain at rest", f.A0+f.A1+f.A2+f.B1+f.B2, 1, 1e-15)
}

// gain is the amplitude with which the middle of a long sine comes out.
func gain(freq, cutoff, rate float64) float64 {
	const n = 4000
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * freq * float64(i) / rate)
	}
	y := ZeroLag(x, cutoff, rate)
	in, out := 0.0, 0.0
	for i := n / 4; i < 3*n/4; i++ {
		in += x[i] * x[i]
		out += x[i] * y[i] // in phase: zero lag
	}
	return out / in
}

func TestZeroLagGain(t *testing.T) {
	for _, c := range []struct{ cutoff, rate float64 }{{12, 240}, {6, 60}, {50, 240}, {20, 120}} {
		near(t, "gain at cutoff", gain(c.cutoff, c.cutoff, c.rate), math.Sqrt(.5), 1e-3)
		near(t, "gain far below", gain(c.cutoff/10, c.cutoff, c.rate), 1, 1e-3)
	}
}

func TestZeroLagIsLinearAndReversible(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	n := 200
	x, back, line := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
		back[n-1-i] = x[i]
		line[i] = 3 + .2*float64(i)
	}
	y, yb, yl := ZeroLag(x, 10, 120), ZeroLag(back, 10, 120), ZeroLag(line, 10, 120)
	for i := range y {
		near(t, "a straight line stays", yl[i], line[i], 3e-3)
		if i > 40 && i < n-40 {
			near(t, "time reversed", yb[n-1-i], y[i], 1e-6)
		}
	}
	if y := ZeroLag(nil, 5, 100); len(y) != 0 {
		t.Errorf("nothing became %v", y)
	}
	for _, cutoff := range []float64{0, -1, 60, nan, 1e-300} {
		if y := ZeroLag(x, cutoff, 120); len(y) != n {
			t.Errorf("cutoff %v: %d samples", cutoff, len(y))
		}
	}
	if y := ZeroLag(x, 60, 120); !math.IsNaN(y[5]) {
		t.Error("a cutoff at Nyquist gave a value")
	}
}

func TestResidualCutoff(t *testing.T) {
	// A 2 Hz sine of amplitude 1 in noise of 0.02: the noise is read within a
	// quarter, the cutoff lies above the signal and far below Nyquist.
	rng := rand.New(rand.NewPCG(9, 10))
	x := make([]float64, 600)
	for i := range x {
		x[i] = math.Sin(2*math.Pi*2*float64(i)/120) + .02*rng.NormFloat64()
	}
	cutoff, noise := ResidualCutoff(x, 120)
	near(t, "noise", noise, .02, .005)
	if !(cutoff > 2.5 && cutoff < 12) {
		t.Errorf("cutoff %v Hz", cutoff)
	}
	if c, _ := ResidualCutoff(x[:10], 120); !math.IsNaN(c) {
		t.Errorf("ten samples gave cutoff %v", c)
	}
}

// spread is the sd of a differentiator's output at the middle of 41 samples of
// white unit noise: the root of its summed squared response to single samples.
func spread(derive func([]float64) []float64) float64 {
	sum := 0.0
	for i := range 41 {
		x := make([]float64, 41)
		x[i] = 1
		d := derive(x)[20]
		sum += d * d
	}
	return math.Sqrt(sum)
}

func TestDerivativeNoise(t *testing.T) {
	first := func(half int) func([]float64) []float64 {
		return func(x []float64) []float64 { d, _ := Parabola(x, 1, half); return d }
	}
	second := func(x []float64) []float64 { _, d := Parabola(x, 1, 1); return d }
	five := func(x []float64) []float64 { return FivePoint(x, 1) }
	for _, c := range []struct {
		what   string
		derive func([]float64) []float64
		want   float64
	}{
		{"3-point", first(1), math.Sqrt(.5)}, {"5-point", first(2), .3162}, {"7-point", first(3), .1890},
		{"9-point", first(4), .1291}, {"11-point", first(5), .0953}, {"quartic", five, .9501},
		{"second difference", second, math.Sqrt(6)},
	} {
		near(t, c.what, spread(c.derive), c.want, 6e-5)
	}
}

func TestDerivativesOfPolynomials(t *testing.T) {
	dt := .01
	x, q := make([]float64, 30), make([]float64, 30)
	for i := range x {
		s := float64(i) * dt
		x[i] = 1 - 2*s + 3*s*s
		q[i] = s * s * s * s
	}
	for half := 1; half <= 4; half++ {
		first, second := Parabola(x, dt, half)
		for i := range x {
			near(t, "first", first[i], -2+6*float64(i)*dt, 1e-9)
			near(t, "second", second[i], 6, 1e-8)
		}
	}
	for i, d := range FivePoint(q, dt)[2:28] {
		near(t, "quartic", d, 4*math.Pow(float64(i+2)*dt, 3), 1e-10)
	}
	if first, _ := Parabola(x[:4], dt, 2); !math.IsNaN(first[0]) {
		t.Error("a window longer than the data gave a value")
	}
}
