package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// strip is a symmetric positive-definite matrix of one unknown a node whose rows reach
// three nodes back, as the four nodes of a stencil do: the information matrix of one axis
// of a path. A row holds four numbers, the diagonal last: element (i, j), i−3 ≤ j ≤ i, is
// the (j−i+3)-th of row i. Those before the first column are zeros.
type strip [][4]float64

// blank returns a strip of n rows of zeros in the memory of s.
func (s strip) blank(n int) strip {
	if cap(s) < n {
		return make(strip, n, n+n/4)
	}
	s = s[:n]
	clear(s)
	return s
}

// addKnot adds weight·w·wᵀ at the four nodes from first on.
func (s strip) addKnot(first int, w *[4]float64, weight float64) {
	a := (*[4][4]float64)(s[first:])
	w0, w1, w2, w3 := weight*w[0], weight*w[1], weight*w[2], weight*w[3]
	a[0][3] += w0 * w[0]
	a[1][2] += w1 * w[0]
	a[1][3] += w1 * w[1]
	a[2][1] += w2 * w[0]
	a[2][2] += w2 * w[1]
	a[2][3] += w2 * w[2]
	a[3][0] += w3 * w[0]
	a[3][1] += w3 * w[1]
	a[3][2] += w3 * w[2]
	a[3][3] += w3 * w[3]
}

// anchor is anchorLoose for a strip.
func (s strip) anchor() {
	for i := range s {
		s[i][3] += 1 / (looseSD * looseSD)
	}
}

// factor replaces the matrix by L·D·Lᵀ with ones on L's diagonal, whose places hold 1/D_ii,
// and reports whether it was positive definite. A square root in each row would hold up the
// rows after it.
func (s strip) factor() bool {
	// Of the rows of L and of 1/D above, a being the next one up and c the third, what a row
	// needs, by the places in them: single numbers, which an array of them would take to memory.
	var a1, a2, a3, b2, b3, c3 float64
	for i := range s {
		r := &s[i]
		v0, v1, v2 := r[0], r[1], r[2]
		v1 -= v0 * b2
		v2 -= v0*a1 + v1*a2
		l0, l1, l2 := v0*c3, v1*b3, v2*a3
		d := r[3] - v0*l0 - v1*l1 - v2*l2
		if !(d > 0) {
			return false
		}
		c3, b2, b3 = b3, a2, a3
		a1, a2, a3 = l1, l2, 1/d
		r[0], r[1], r[2], r[3] = l0, l1, l2, a3
	}
	return true
}

// solve is factor, and solves for the three axes of a path at once, in place.
func (s strip) solve(x []geom.Vec3) bool {
	x = x[:len(s)]
	var a1, a2, a3, b2, b3, c3 float64 // as in factor
	var x1, x2, x3 geom.Vec3
	for i := range s {
		r, v := &s[i], x[i]
		v0, v1, v2 := r[0], r[1], r[2]
		v1 -= v0 * b2
		v2 -= v0*a1 + v1*a2
		l0, l1, l2 := v0*c3, v1*b3, v2*a3
		d := r[3] - v0*l0 - v1*l1 - v2*l2
		if !(d > 0) {
			return false
		}
		c3, b2, b3 = b3, a2, a3
		a1, a2, a3 = l1, l2, 1/d
		r[0], r[1], r[2], r[3] = l0, l1, l2, a3
		v = geom.Vec3{
			X: v.X - l0*x3.X - l1*x2.X - l2*x1.X,
			Y: v.Y - l0*x3.Y - l1*x2.Y - l2*x1.Y,
			Z: v.Z - l0*x3.Z - l1*x2.Z - l2*x1.Z,
		}
		x[i] = v
		x3, x2, x1 = x2, x1, v
	}
	s.back(x)
	return true
}

// back solves Lᵀ·y = D⁻¹·x for three axes, in place (after factor).
func (s strip) back(x []geom.Vec3) {
	x = x[:len(s)]
	// What rows below have taken from the next three above them, not yet subtracted.
	var s1, s2, s3 geom.Vec3
	for i := len(x) - 1; i >= 0; i-- {
		r := &s[i]
		v := x[i].Scale(r[3]).Sub(s1)
		x[i] = v
		s1 = s2.Add(v.Scale(r[2]))
		s2 = s3.Add(v.Scale(r[1]))
		s3 = v.Scale(r[0])
	}
}

// root turns the factor into the Cholesky factor M = L·√D, the matrix M·Mᵀ.
func (s strip) root() {
	for i := range s {
		s[i][3] = 1 / math.Sqrt(s[i][3])
		for k := 1; k <= min(i, 3); k++ {
			s[i][3-k] *= s[i-k][3]
		}
	}
}
