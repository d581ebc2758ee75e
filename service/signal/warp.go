package signal

import (
	"math"
	"slices"
)

// Pair joins sample I of the first series with sample J of the second.
type Pair struct{ I, J int }

// Alignment is the cheapest warping of one series onto another.
type Alignment struct {
	Distance   float64 // summed weighted cost along Path
	Normalised float64 // Distance / (n + m): cost per sample, free of length
	Path       []Pair  // from (0, 0) to (n−1, m−1), each step +1 in I, in J, or in both (which wins a tie)
}

// maxWarpCells bounds the cost matrix (16 MB): two series of 1,400 samples,
// five seconds at 240 Hz and more. Our choice.
const maxWarpCells = 1 << 21

// DTW aligns a and b by dynamic time warping with the absolute difference as
// cost and the symmetric step: a diagonal step counts its cost twice, so that
// no path is cheap merely for being short and Normalised is an average
// (Sakoe & Chiba 1978, IEEE TASSP 26:43; the first cell counts once, as in
// Giorgino 2009, J Stat Softw 31(7)). band ≥ 0 keeps |i·(m−1)/(n−1) − j|
// within so many samples; a negative band allows every path.
//
// Distance is NaN and Path nil when a series is empty, n·m exceeds 2²¹, no path
// fits the band, or every path meets a NaN.
func DTW(a, b []float64, band int) Alignment {
	return Warp(len(a), len(b), 2, band, func(i, j int) float64 { return math.Abs(a[i] - b[j]) })
}

// Warp is DTW over any cost(i, j) ≥ 0 and with the given weight of a diagonal
// step: 2 for the symmetric step of Sakoe & Chiba, 1 for equal weights.
func Warp(n, m int, diagonal float64, band int, cost func(i, j int) float64) Alignment {
	none := Alignment{Distance: math.NaN(), Normalised: math.NaN()}
	if n <= 0 || m <= 0 || n > maxWarpCells/m {
		return none
	}
	w := warping{m: m, diagonal: diagonal, total: make([]float64, n*m), came: make([]step, n*m)}
	for i := range n {
		for j := range m {
			c := math.Inf(1)
			if inBand(i, j, n, m, band) {
				c = cost(i, j)
			}
			w.extend(i, j, c)
		}
	}
	d := w.total[n*m-1]
	if math.IsInf(d, 1) {
		return none
	}
	return Alignment{Distance: d, Normalised: d / float64(n+m), Path: w.path(n-1, m-1)}
}

// inBand reports whether (i, j) is within band samples of the line from corner to corner.
func inBand(i, j, n, m, band int) bool {
	if band < 0 || n == 1 {
		return true
	}
	line := float64(i) * float64(m-1) / float64(n-1)
	return math.Abs(line-float64(j)) <= float64(band)
}

type step uint8

const (
	start step = iota
	both       // from (i−1, j−1)
	onlyI      // from (i−1, j)
	onlyJ      // from (i, j−1)
)

type warping struct {
	m        int // samples of the second series
	diagonal float64
	total    []float64 // cheapest cost from (0, 0) to each cell, +∞ where none
	came     []step    // the last step of that path
}

// extend settles cell (i, j), whose own cost is c, from its three forerunners.
func (w *warping) extend(i, j int, c float64) {
	at := i*w.m + j
	best, from := math.Inf(1), start
	take := func(total float64, s step) {
		if total < best {
			best, from = total, s
		}
	}
	if i == 0 && j == 0 {
		best = c
	}
	if i > 0 && j > 0 {
		take(w.total[at-w.m-1]+w.diagonal*c, both)
	}
	if i > 0 {
		take(w.total[at-w.m]+c, onlyI)
	}
	if j > 0 {
		take(w.total[at-1]+c, onlyJ)
	}
	if math.IsNaN(best) {
		best = math.Inf(1)
	}
	w.total[at], w.came[at] = best, from
}

// path walks the steps back from (i, j) to (0, 0).
func (w *warping) path(i, j int) []Pair {
	path := []Pair{{i, j}}
	for i > 0 || j > 0 {
		switch w.came[i*w.m+j] {
		case both:
			i, j = i-1, j-1
		case onlyI:
			i--
		default:
			j--
		}
		path = append(path, Pair{i, j})
	}
	slices.Reverse(path)
	return path
}
