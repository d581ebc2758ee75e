package signal

import (
	"math"
	"slices"
)

// winter corrects the cutoff of a second-order Butterworth filter that is run
// twice, C = (√2 − 1)^¼ = 0.8022, so that the two passes together pass 1/√2 of
// the amplitude at the cutoff asked for (Winter, Biomechanics and Motor Control
// of Human Movement, §2.2.4).
var winter = math.Pow(math.Sqrt2-1, .25)

// Lowpass is a second-order recursive filter in Winter's letters:
//
//	y_n = A0·x_n + A1·x_{n−1} + A2·x_{n−2} + B1·y_{n−1} + B2·y_{n−2}
type Lowpass struct{ A0, A1, A2, B1, B2 float64 }

// Butterworth returns the second-order low-pass filter, single pass, with gain
// 1/√2 at cutoff in (0, rate/2), both Hz; outside that range its coefficients
// are NaN.
func Butterworth(cutoff, rate float64) Lowpass {
	if !(cutoff > 0 && cutoff < rate/2) {
		nan := math.NaN()
		return Lowpass{nan, nan, nan, nan, nan}
	}
	return lowpass(math.Tan(math.Pi * cutoff / rate))
}

// lowpass builds the filter from the cutoff on the axis of the bilinear
// transform, w = tan(π·cutoff/rate) in (0, ∞).
func lowpass(w float64) Lowpass {
	k1, k2 := math.Sqrt2*w, w*w
	a0 := k2 / (1 + k1 + k2)
	b1 := 2 * a0 * (1/k2 - 1)
	return Lowpass{A0: a0, A1: 2 * a0, A2: a0, B1: b1, B2: 1 - 4*a0 - b1}
}

// ZeroLag returns x low-pass filtered forward and backward by a second-order
// Butterworth filter: fourth order in all, no delay, gain 1/√2 at cutoff in
// (0, rate/2), both Hz, NaN outside it. Winter's correction is applied to tan(π·cutoff/rate),
// where it is exact, and not to the hertz.
//
// Samples are evenly spaced and complete: one NaN spoils the series. The ends
// are continued by odd reflection (2·x_0 − x_k), the least harmful of the plain
// continuations for derivatives there (Vint & Hinrichs 1996, J Biomech 29:1637).
func ZeroLag(x []float64, cutoff, rate float64) []float64 {
	n := len(x)
	if n == 0 || !(cutoff > 0 && cutoff < rate/2) {
		return slices.Repeat([]float64{math.NaN()}, n)
	}
	f := lowpass(math.Tan(math.Pi*cutoff/rate) / winter)
	pad := min(n-1, settle(cutoff, rate))
	y := reflect(x, pad)
	f.run(y)
	slices.Reverse(y)
	f.run(y)
	slices.Reverse(y)
	return y[pad : pad+n]
}

// settle is how many samples the filter's memory of its start lasts: after 1.5
// cutoff periods it has fallen to exp(−1.5·2π/√2), about 0.1 %.
func settle(cutoff, rate float64) int {
	return int(min(math.Ceil(1.5*rate/cutoff), 1<<20))
}

// reflect continues x by pad < len(x) samples at both ends, turned about the end sample.
func reflect(x []float64, pad int) []float64 {
	n := len(x)
	y := make([]float64, 0, n+2*pad)
	for k := pad; k > 0; k-- {
		y = append(y, 2*x[0]-x[k])
	}
	y = append(y, x...)
	for k := 1; k <= pad; k++ {
		y = append(y, 2*x[n-1]-x[n-1-k])
	}
	return y
}

// run filters y in place, as if y[0] had stood for ever before it.
func (f Lowpass) run(y []float64) {
	x1, x2, y1, y2 := y[0], y[0], y[0], y[0]
	for i, x := range y {
		v := f.A0*x + f.A1*x1 + f.A2*x2 + f.B1*y1 + f.B2*y2
		x1, x2, y1, y2 = x, x1, v, y1
		y[i] = v
	}
}

// Residual returns the root mean square of what ZeroLag takes out of x at each cutoff.
func Residual(x []float64, rate float64, cutoffs []float64) []float64 {
	r := make([]float64, len(cutoffs))
	for i, c := range cutoffs {
		r[i] = rms(x, ZeroLag(x, c, rate))
	}
	return r
}

func rms(a, b []float64) float64 {
	sum := 0.0
	for i := range a {
		sum += (a[i] - b[i]) * (a[i] - b[i])
	}
	return math.Sqrt(sum / float64(len(a)))
}

// ResidualCutoff chooses a cutoff in Hz by Winter's residual analysis: far above
// the signal the residual falls as a straight line, whose value at zero cutoff
// is the noise; the cutoff is where the residual equals that. The line is
// fitted over cutoffs from 0.5 to 0.8 of the Nyquist frequency, which for white
// noise reads the noise some 10 to 20 % high. NaN below 16 samples or when
// no such point exists.
//
// For second derivatives the choice is known to be too low, most at high rates
// (Yu et al. 1999, J Appl Biomech 15:318): a check, not a tool of choice.
func ResidualCutoff(x []float64, rate float64) (cutoff, noise float64) {
	const steps = 200
	if len(x) < 16 {
		return math.NaN(), math.NaN()
	}
	cutoffs := make([]float64, steps-1)
	for i := range cutoffs {
		cutoffs[i] = rate / 2 * float64(i+1) / steps
	}
	r := Residual(x, rate, cutoffs)
	noise = intercept(cutoffs[steps/2-1:steps*4/5], r[steps/2-1:steps*4/5])
	for i := 1; i < len(r); i++ {
		if r[i-1] > noise && r[i] <= noise {
			t := (r[i-1] - noise) / (r[i-1] - r[i])
			return cutoffs[i-1] + t*(cutoffs[i]-cutoffs[i-1]), noise
		}
	}
	return math.NaN(), noise
}

// intercept is the value at x = 0 of the least-squares line.
func intercept(x, y []float64) float64 {
	mx, my := Mean(x), Mean(y)
	sxy, sxx := 0.0, 0.0
	for i := range x {
		sxy += (x[i] - mx) * (y[i] - my)
		sxx += (x[i] - mx) * (x[i] - mx)
	}
	return my - mx*sxy/sxx
}
