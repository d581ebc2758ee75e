package track

import "math"

// band is a symmetric positive-definite matrix of half-bandwidth hb, held by
// its lower band, row-major: element (i, j), i−hb ≤ j ≤ i, at a[i·(hb+1) + j−i+hb].
// It is the information matrix (inverse covariance) of a Gaussian over motion
// at the nodes of a grid.
type band struct {
	n, hb int
	a     []float64
}

// reset makes b an n×n zero matrix of half-bandwidth hb, keeping its memory.
func (b *band) reset(n, hb int) {
	b.n, b.hb = n, hb
	size := n * (hb + 1)
	if cap(b.a) < size {
		b.a = make([]float64, size)
	}
	b.a = b.a[:size]
	clear(b.a)
}

// add adds v to element (i, j) and, by symmetry, (j, i); |i−j| ≤ hb.
func (b *band) add(i, j int, v float64) {
	if j > i {
		i, j = j, i
	}
	b.a[i*(b.hb+1)+j-i+b.hb] += v
}

// row32 adds the information of one scalar observation with coefficients c at
// unknowns idx and weight w (1/variance): w·c·cᵀ.
func (b *band) row32(idx []int32, c []float64, w float64) {
	for p, i := range idx {
		wc := w * c[p]
		for q := 0; q <= p; q++ {
			b.add(int(i), int(idx[q]), wc*c[q])
		}
	}
}

// row is row32 for plain indices.
func (b *band) row(idx []int, c []float64, w float64) {
	for p, i := range idx {
		wc := w * c[p]
		for q := 0; q <= p; q++ {
			b.add(i, idx[q], wc*c[q])
		}
	}
}

// factor replaces the matrix by its Cholesky factor L (b = L·Lᵀ) and reports
// whether it was positive definite.
func (b *band) factor() bool {
	hb, w := b.hb, b.hb+1
	for i := range b.n {
		ri := b.a[i*w : i*w+w]
		lo := max(0, i-hb)
		for j := lo; j < i; j++ {
			rj := b.a[j*w : j*w+w]
			// Columns k from lo (or j−hb, the later) to j−1.
			k0 := max(lo, j-hb)
			s := ri[j-i+hb]
			x, y := ri[k0-i+hb:j-i+hb], rj[k0-j+hb:hb]
			for k, v := range x {
				s -= v * y[k]
			}
			ri[j-i+hb] = s / rj[hb]
		}
		d := ri[hb]
		for _, v := range ri[lo-i+hb : hb] {
			d -= v * v
		}
		if !(d > 0) {
			return false
		}
		ri[hb] = math.Sqrt(d)
	}
	return true
}

// forward solves L·y = x in place (after factor).
func (b *band) forward(x []float64) {
	hb, w := b.hb, b.hb+1
	for i := range b.n {
		r := b.a[i*w : i*w+w]
		lo := max(0, i-hb)
		s := x[i]
		for k, v := range r[lo-i+hb : hb] {
			s -= v * x[lo+k]
		}
		x[i] = s / r[hb]
	}
}

// backward solves Lᵀ·y = x in place (after factor). A standard normal x gives
// a draw from the zero-mean Gaussian whose information matrix this was.
func (b *band) backward(x []float64) {
	hb, w := b.hb, b.hb+1
	for i := b.n - 1; i >= 0; i-- {
		r := b.a[i*w : i*w+w]
		x[i] /= r[hb]
		xi := x[i]
		lo := max(0, i-hb)
		for k, v := range r[lo-i+hb : hb] {
			x[lo+k] -= v * xi
		}
	}
}

// solve solves (L·Lᵀ)·y = x in place (after factor).
func (b *band) solve(x []float64) {
	b.forward(x)
	b.backward(x)
}

// logDet returns the logarithm of the determinant (after factor).
func (b *band) logDet() float64 {
	var s float64
	for i := range b.n {
		s += math.Log(b.a[i*(b.hb+1)+b.hb])
	}
	return 2 * s
}
