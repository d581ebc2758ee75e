package signal

import (
	"cmp"
	"math"
	"slices"
)

// TheilSen returns the median of the slopes of all pairs of points with
// different x, in units of y per unit of x: a trend that up to 29 % of wrong
// points cannot break (Theil 1950; Sen 1968, J Am Stat Assoc 63:1379).
// Points with a NaN or an infinity are left out; NaN when fewer than two
// differ in x. It works through n²/2 pairs.
func TheilSen(x, y []float64) (slope float64) {
	var slopes []float64
	for i := range min(len(x), len(y)) {
		for j := range i {
			s := (y[i] - y[j]) / (x[i] - x[j])
			if !math.IsNaN(s) && !math.IsInf(s, 0) {
				slopes = append(slopes, s)
			}
		}
	}
	return Median(slopes)
}

// exactTrend is the longest series without ties whose p is counted out exactly;
// the normal approximation is fair beyond (Gilbert 1987, Statistical Methods for
// Environmental Pollution Monitoring, §16.4).
const exactTrend = 10

// MannKendall tests whether y, in the order of time, has a trend that keeps
// its direction.
//
//	S = Σ_{i<j} sign(y_j − y_i)
//	Var S = [n(n−1)(2n+5) − Σ t(t−1)(2t+5)] / 18, t the size of each group of ties
//	z = (S − sign S)/√Var S
//
// s is in [−n(n−1)/2, n(n−1)/2], positive for a rising series. p is two-sided
// in [0, 1]: counted exactly for n ≤ 10 without ties, from z otherwise. z = 0
// and p = 1 below three values. NaN values are left out.
// Kendall 1975, Rank Correlation Methods; Gilbert 1987, §16.4.
func MannKendall(y []float64) (s int, z, p float64) {
	y = slices.DeleteFunc(slices.Clone(y), math.IsNaN)
	for j := range y {
		for i := range j {
			s += cmp.Compare(y[j], y[i])
		}
	}
	variance, tied := trendVariance(y)
	if len(y) < 3 || variance <= 0 || s == 0 {
		return s, 0, 1
	}
	z = (math.Abs(float64(s)) - 1) / math.Sqrt(variance)
	p = math.Erfc(z / math.Sqrt2)
	if len(y) <= exactTrend && !tied {
		p = exactTrendP(len(y), s)
	}
	return s, math.Copysign(z, float64(s)), p
}

// trendVariance is Var S under no trend, and whether values are tied.
func trendVariance(y []float64) (variance float64, tied bool) {
	term := func(n int) int { return n * (n - 1) * (2*n + 5) }
	sorted := slices.Sorted(slices.Values(y))
	sum := term(len(sorted))
	for i := 0; i < len(sorted); {
		j := i + 1
		for j < len(sorted) && sorted[j] == sorted[i] {
			j++
		}
		sum -= term(j - i)
		tied = tied || j-i > 1
		i = j
	}
	return float64(sum) / 18, tied
}

// exactTrendP returns P(|S| ≥ |s|) over all n! orders of n different values.
// With c[k] the number of orders of m values that have k discordant pairs, a
// further value adds 0 … m discordant pairs; S = n(n−1)/2 − 2k.
func exactTrendP(n, s int) float64 {
	pairs := n * (n - 1) / 2
	count := make([]float64, pairs+1)
	count[0] = 1
	orders := 1.0
	for m := 1; m < n; m++ {
		orders *= float64(m + 1)
		next := make([]float64, pairs+1)
		for k := range next {
			for d := 0; d <= min(m, k); d++ {
				next[k] += count[k-d]
			}
		}
		count = next
	}
	extreme := 0.0
	for k, c := range count {
		if abs(pairs-2*k) >= abs(s) {
			extreme += c
		}
	}
	return min(1, extreme/orders)
}

func abs(a int) int { return max(a, -a) }

// BenjaminiHochberg tells which of the hypotheses with p-values p to reject so
// that the expected share of false rejections stays at or below q, in (0, 1):
// those with p ≤ p₍k₎, k the largest rank with p₍k₎ ≤ q·k/n. NaN is never rejected
// but counts in n. Benjamini & Hochberg 1995, J R Stat Soc B 57:289.
func BenjaminiHochberg(p []float64, q float64) []bool {
	sorted := slices.Sorted(slices.Values(p))
	nan := 0
	for nan < len(sorted) && math.IsNaN(sorted[nan]) {
		nan++
	}
	limit := math.Inf(-1)
	for k, v := range sorted[nan:] {
		if v <= q*float64(k+1)/float64(len(p)) {
			limit = v
		}
	}
	reject := make([]bool, len(p))
	for i, v := range p {
		reject[i] = v <= limit
	}
	return reject
}
