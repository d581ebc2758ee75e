package signal

import "math"

// Parabola returns the first and second derivative of x, evenly spaced by dt
// seconds, from the least-squares parabola through the 2·half + 1 samples
// nearest to each. In the middle the window is centred: half 1 is the
// three-point central difference, half 2 the five-point slope, and so on; near
// the ends the last full window is read off-centre. With white noise of
// standard deviation σ in x the first derivative's is, in the middle,
//
//	σ / (dt·√(2·Σ_{k=1}^{half} k²))
//
// Both are NaN when half < 1 or the window does not fit
// (Savitzky & Golay 1964, Anal Chem 36:1627).
func Parabola(x []float64, dt float64, half int) (first, second []float64) {
	n := len(x)
	first, second = make([]float64, n), make([]float64, n)
	for i := range x {
		if half < 1 || 2*half+1 > n {
			first[i], second[i] = math.NaN(), math.NaN()
			continue
		}
		mid := min(max(i, half), n-1-half)
		b, c := parabola(x[mid-half : mid+half+1])
		first[i] = (b + 2*c*float64(i-mid)) / dt
		second[i] = 2 * c / (dt * dt)
	}
	return first, second
}

// parabola returns b and c of the least-squares a + b·k + c·k², k counted from
// the middle of the window.
func parabola(w []float64) (b, c float64) {
	half := len(w) / 2
	var s2, s4, sum, sum1, sum2 float64
	for i, v := range w {
		k := float64(i - half)
		s2 += k * k
		s4 += k * k * k * k
		sum += v
		sum1 += k * v
		sum2 += k * k * v
	}
	n := float64(len(w))
	return sum1 / s2, (n*sum2 - s2*sum) / (n*s4 - s2*s2)
}

// FivePoint returns the first derivative of x, evenly spaced by dt, exact for
// polynomials of fourth degree: (x_{−2} − 8·x_{−1} + 8·x_1 − x_2)/(12·dt). The
// two samples at either end are NaN. It is noisier than the central difference:
// sd 0.950·σ/dt against 0.707·σ/dt.
func FivePoint(x []float64, dt float64) []float64 {
	d := make([]float64, len(x))
	for i := range d {
		if i < 2 || i >= len(x)-2 {
			d[i] = math.NaN()
			continue
		}
		d[i] = (x[i-2] - 8*x[i-1] + 8*x[i+1] - x[i+2]) / (12 * dt)
	}
	return d
}
