package signal

import (
	"math"
	"slices"
)

// madToSD makes the median absolute deviation of normal data an estimate of
// its standard deviation: 1/Φ⁻¹(3/4) (Rousseeuw & Croux 1993, J Am Stat Assoc 88:1273).
const madToSD = 1.482602218505602

// Mean returns the arithmetic mean; NaN without values.
func Mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// SD returns the sample standard deviation (divisor n − 1); NaN below two values.
func SD(x []float64) float64 {
	if len(x) < 2 {
		return math.NaN()
	}
	m, sum := Mean(x), 0.0
	for _, v := range x {
		sum += (v - m) * (v - m)
	}
	return math.Sqrt(sum / float64(len(x)-1))
}

// Median returns the middle value, the mean of the two middle ones when their
// number is even; NaN without values or when any value is NaN.
func Median(x []float64) float64 { return medianOf(slices.Clone(x)) }

// medianOf is Median of values that it may put into another order.
func medianOf(x []float64) float64 {
	n := len(x)
	if n == 0 || slices.ContainsFunc(x, math.IsNaN) {
		return math.NaN()
	}
	Kth(x, n/2)
	if n%2 == 1 {
		return x[n/2]
	}
	return slices.Max(x[:n/2])/2 + x[n/2]/2
}

// Kth returns the value that would stand in place k if x were sorted, and puts it there:
// none that is larger comes before it and none that is smaller after it. No value may be
// NaN; k must be in [0, len(x)).
//
// Values are parted about pivots (Hoare 1961, Commun ACM 4:321) a little to both sides of
// the place that is sought, as a sample has it (Floyd & Rivest 1975, Commun ACM 18:165).
func Kth(x []float64, k int) float64 {
	lo, hi := 0, len(x) // x[lo:hi] holds the place
	var sample [16]float64
	const n = len(sample)
	for tries := 0; hi-lo > 2*n; tries++ {
		if tries == 64 {
			break // splits that hardly split: sorted in the end
		}
		for i := range sample {
			sample[i] = x[lo+(2*i+1)*(hi-lo)/(2*n)]
		}
		sortFew(sample[:])
		at := (k - lo) * n / (hi - lo)
		over := sample[min(at+n/8, n-1)]
		m := lo + part(x[lo:hi], over)
		if k >= m { // seldom
			lo = m
			if m += partEven(x[lo:hi], over); k < m {
				return over
			}
			lo = m
			continue
		}
		hi = m
		if m = lo + part(x[lo:hi], sample[max(at-n/8, 0)]); k < m {
			hi = m
		} else {
			lo = m
		}
	}
	if hi-lo > 2*n {
		slices.Sort(x[lo:hi])
	} else {
		sortFew(x[lo:hi])
	}
	return x[k]
}

// part puts the values below p before the others and returns how many they are. Whether a
// value is one of them is counted, not asked: a processor would guess wrong half the time.
func part(x []float64, p float64) int {
	j := 0
	for i, v := range x {
		x[i] = x[j]
		x[j] = v
		one := 0
		if v < p {
			one = 1
		}
		j += one
	}
	return j
}

// partEven is part for the values not above p.
func partEven(x []float64, p float64) int {
	j := 0
	for i, v := range x {
		x[i] = x[j]
		x[j] = v
		one := 0
		if v <= p {
			one = 1
		}
		j += one
	}
	return j
}

// sortFew sorts few values.
func sortFew(x []float64) {
	for i := 1; i < len(x); i++ {
		v, j := x[i], i
		for ; j > 0 && x[j-1] > v; j-- {
			x[j] = x[j-1]
		}
		x[j] = v
	}
}

// MAD returns the median absolute deviation from the median, scaled by 1.4826
// so that it estimates the standard deviation of normal data. It stands up to
// nearly half of the values being wrong.
func MAD(x []float64) float64 { return MADOver(slices.Clone(x)) }

// MADOver is MAD that leaves something else in x.
func MADOver(x []float64) float64 {
	m := medianOf(x)
	for i, v := range x {
		x[i] = math.Abs(v - m)
	}
	return madToSD * medianOf(x)
}

// Medoid returns the index in [0, n) of the member with the smallest summed
// distance to all others: the most typical one. Ties go to the lower index;
// −1 when n ≤ 0. dist(i, j) is asked for i < j only; a NaN counts as +∞.
func Medoid(dist func(i, j int) float64, n int) int {
	if n <= 0 {
		return -1
	}
	sum := make([]float64, n)
	for i := range n {
		for j := i + 1; j < n; j++ {
			d := dist(i, j)
			if math.IsNaN(d) {
				d = math.Inf(1)
			}
			sum[i] += d
			sum[j] += d
		}
	}
	best := 0
	for i, s := range sum {
		if s < sum[best] {
			best = i
		}
	}
	return best
}
