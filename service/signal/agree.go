package signal

import "math"

// z95 is the 97.5 % quantile of the standard normal distribution: the
// half-width of a two-sided 95 % interval in standard deviations.
const z95 = 1.959963984540054

// MDC95 returns the minimal detectable change at 95 %: two readings with
// standard error of measurement sem ≥ 0 must differ by more than
// 1.96·√2·sem before a change is believed (Weir 2005, J Strength Cond Res 19:231).
func MDC95(sem float64) float64 { return z95 * math.Sqrt2 * sem }

// Agreement is the two-way analysis of variance of n targets, each measured
// k times: the mean squares from which every intraclass correlation follows
// (Shrout & Fleiss 1979, Psychol Bull 86:420).
type Agreement struct {
	N, K    int
	Between float64 // between targets, BMS
	Within  float64 // within targets, WMS
	Trials  float64 // between the k repeats, JMS
	Error   float64 // left over, EMS
}

// Agree analyses rows of k repeats, one row a target. All figures are NaN with
// fewer than two rows or columns or with rows of different length.
func Agree(rows [][]float64) Agreement {
	if !table(rows) {
		nan := math.NaN()
		return Agreement{Between: nan, Within: nan, Trials: nan, Error: nan}
	}
	n, k := len(rows), len(rows[0])
	rowMean, colMean := make([]float64, n), make([]float64, k)
	for i, row := range rows {
		rowMean[i] = Mean(row)
		for j, v := range row {
			colMean[j] += v / float64(n)
		}
	}
	within := 0.0
	for i, row := range rows {
		within += squares(row, rowMean[i])
	}
	all := Mean(rowMean)
	between, trials := float64(k)*squares(rowMean, all), float64(n)*squares(colMean, all)
	return Agreement{
		N: n, K: k,
		Between: between / float64(n-1),
		Within:  within / float64(n*(k-1)),
		Trials:  trials / float64(k-1),
		Error:   (within - trials) / float64((n-1)*(k-1)),
	}
}

func table(rows [][]float64) bool {
	if len(rows) < 2 || len(rows[0]) < 2 {
		return false
	}
	for _, row := range rows {
		if len(row) != len(rows[0]) {
			return false
		}
	}
	return true
}

// squares is the sum of squared distances from m.
func squares(x []float64, m float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += (v - m) * (v - m)
	}
	return sum
}

// SEM returns the standard error of measurement of one trial, √EMS, in the
// unit of the data (Weir 2005).
func (a Agreement) SEM() float64 { return math.Sqrt(a.Error) }

// ICC1 returns ICC(1,1) and ICC(1,k): each target has its own judges.
func (a Agreement) ICC1() (single, mean float64) {
	k := float64(a.K)
	return (a.Between - a.Within) / (a.Between + (k-1)*a.Within), (a.Between - a.Within) / a.Between
}

// ICC2 returns ICC(2,1) and ICC(2,k): judges drawn at random, absolute agreement.
func (a Agreement) ICC2() (single, mean float64) {
	n, k, d := float64(a.N), float64(a.K), a.Between-a.Error
	shift := (a.Trials - a.Error) / n
	return d / (a.Between + (k-1)*a.Error + k*shift), d / (a.Between + shift)
}

// ICC3 returns ICC(3,1) and ICC(3,k): these judges only, consistency.
func (a Agreement) ICC3() (single, mean float64) {
	k, d := float64(a.K), a.Between-a.Error
	return d / (a.Between + (k-1)*a.Error), d / a.Between
}

// BlandAltman returns the mean of a − b and its standard deviation: two methods
// agree within bias ± 1.96 sd for 95 % of readings (Bland & Altman 1986,
// Lancet 1:307). NaN when the lengths differ or are below two.
func BlandAltman(a, b []float64) (bias, sd float64) {
	if len(a) != len(b) {
		return math.NaN(), math.NaN()
	}
	d := make([]float64, len(a))
	for i := range a {
		d[i] = a[i] - b[i]
	}
	return Mean(d), SD(d)
}
