package signal

import "math"

// z95 is the 97.5 % quantile of the standard normal distribution: the
// half-width of a two-sided 95 % interval in standard deviations.
const z95 = 1.959963984540054

// MDC95 returns the minimal detectable change at 95 %: two readings with
// standard error of measurement sem ≥ 0 must differ by more than
// 1.96·√2·sem before a change is believed (Weir 2005, J Strength Cond Res 19:231).
func MDC95(sem float64) float64 { return z95 * math.Sqrt2 * sem }
