package track

import "math"

// rows is a list of scalar observations of a solve's unknowns, linearised:
// row r says Σ c·x[idx] = y with information w (1/variance). It is kept after
// the solve, because draws from the posterior push simulated errors of the
// observations through the same solve.
type rows struct {
	start []int32 // row r holds entries start[r] … start[r+1]−1
	idx   []int32
	c     []float64
	y, w  []float64
}

func (r *rows) reset() {
	r.start = append(r.start[:0], 0)
	r.idx, r.c, r.y, r.w = r.idx[:0], r.c[:0], r.y[:0], r.w[:0]
}

// entry adds a coefficient to the row that is being written; zeros are left out.
func (r *rows) entry(i int, c float64) {
	if c != 0 {
		r.idx = append(r.idx, int32(i))
		r.c = append(r.c, c)
	}
}

// end closes the row.
func (r *rows) end(y, w float64) {
	r.start = append(r.start, int32(len(r.idx)))
	r.y = append(r.y, y)
	r.w = append(r.w, w)
}

// inform adds the rows' information to b and, where x is not nil, their pull to x.
func (r *rows) inform(b *band, x []float64) {
	for k := range r.y {
		s, e := r.start[k], r.start[k+1]
		b.row32(r.idx[s:e], r.c[s:e], r.w[k])
		if x != nil {
			r.push(x, k, r.y[k])
		}
	}
}

// push adds to x the pull of row k with the value y.
func (r *rows) push(x []float64, k int, y float64) {
	f := r.w[k] * y
	for j := r.start[k]; j < r.start[k+1]; j++ {
		x[r.idx[j]] += f * r.c[j]
	}
}

// of returns c·x of row k.
func (r *rows) of(x []float64, k int) (sum float64) {
	for j := r.start[k]; j < r.start[k+1]; j++ {
		sum += r.c[j] * x[r.idx[j]]
	}
	return sum
}

// shakeFlat adds to x the pull of every row with a value drawn from its own
// variance: how the prior's rows take part in a draw.
func (r *rows) shakeFlat(x []float64, rng *dice) {
	for k := range r.y {
		f := math.Sqrt(r.w[k]) * rng.normal()
		for j := r.start[k]; j < r.start[k+1]; j++ {
			x[r.idx[j]] += f * r.c[j]
		}
	}
}
