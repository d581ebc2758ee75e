package signal

import "math"

// rangeToSD turns the mean range of two neighbouring normal values into their
// standard deviation: d₂ = 2/√π for samples of two
// (Montgomery, Introduction to Statistical Quality Control, App. VI).
const rangeToSD = 1.1283791670955126

// EWMA returns the exponentially weighted moving average
//
//	z_i = λ·x_i + (1 − λ)·z_{i−1},  z_0 = start
//
// with λ in (0, 1]; the smaller, the longer its memory. A NaN in x leaves z as
// it was (Roberts 1959, Technometrics 1:239).
func EWMA(x []float64, start, lambda float64) []float64 {
	z := make([]float64, len(x))
	for i, v := range x {
		if !math.IsNaN(v) {
			start += lambda * (v - start)
		}
		z[i] = start
	}
	return z
}

// EWMALimit returns the half-width of the steady control limits of an EWMA
// with λ in (0, 1] over values with standard deviation sd: 3·sd·√(λ/(2 − λ)).
func EWMALimit(sd, lambda float64) float64 { return 3 * sd * math.Sqrt(lambda/(2-lambda)) }

// CUSUM returns the two tabular cumulative sums about target,
//
//	up_i   = max(0, up_{i−1} + x_i − target − slack)
//	down_i = max(0, down_{i−1} + target − slack − x_i)
//
// in the unit of x. slack ≥ 0 is half the shift that matters; either sum passing
// a limit (often 4 to 5 sd) says that the level has moved. A NaN in x leaves both
// as they were (Page 1954, Biometrika 41:100; Montgomery §9.1).
func CUSUM(x []float64, target, slack float64) (up, down []float64) {
	up, down = make([]float64, len(x)), make([]float64, len(x))
	u, d := 0.0, 0.0
	for i, v := range x {
		if !math.IsNaN(v) {
			u = max(0, u+v-target-slack)
			d = max(0, d+target-slack-v)
		}
		up[i], down[i] = u, d
	}
	return up, down
}

// FirstAbove returns the index of the first value above limit, or −1.
func FirstAbove(x []float64, limit float64) int {
	for i, v := range x {
		if v > limit {
			return i
		}
	}
	return -1
}

// Individuals returns the centre line of a chart of single values and the
// standard deviation of common-cause variation, from the mean of the moving
// ranges |x_i − x_{i−1}| over 1.128; the control limits are centre ± 3 sd
// (Shewhart chart for individuals, Montgomery §6.4). NaN below two values.
func Individuals(x []float64) (centre, sd float64) {
	if len(x) < 2 {
		return math.NaN(), math.NaN()
	}
	sum := 0.0
	for i := 1; i < len(x); i++ {
		sum += math.Abs(x[i] - x[i-1])
	}
	return Mean(x), sum / float64(len(x)-1) / rangeToSD
}
