package signal

import "math"

// minimise returns where f is smallest in [a, b]: a grid of the given number of
// steps finds the valley, golden section its floor. A NaN of f counts as +∞.
func minimise(f func(float64) float64, a, b float64, steps int) float64 {
	h := (b - a) / float64(steps)
	best, low := a, math.Inf(1)
	for i := range steps + 1 {
		x := a + float64(i)*h
		if v := f(x); v < low {
			best, low = x, v
		}
	}
	return golden(f, max(a, best-h), min(b, best+h))
}

// goldenSteps narrows the bracket by 0.618²⁵ ≈ 6·10⁻⁶.
const goldenSteps = 25

// golden is the golden-section search for the minimum of f in [a, b].
func golden(f func(float64) float64, a, b float64) float64 {
	ratio := (math.Sqrt(5) - 1) / 2
	c, d := b-ratio*(b-a), a+ratio*(b-a)
	fc, fd := f(c), f(d)
	for range goldenSteps {
		if fc < fd {
			b, d, fd = d, c, fc
			c = b - ratio*(b-a)
			fc = f(c)
		} else {
			a, c, fc = c, d, fd
			d = a + ratio*(b-a)
			fd = f(d)
		}
	}
	return (a + b) / 2
}
