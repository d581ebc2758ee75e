package camera

import (
	"math"

	"example.com/courtkin/service/geom"
)

// cholesky returns the lower factor of a symmetric positive matrix, with ridge
// times the diagonal added; false when it is not positive definite.
func cholesky(a Cov, ridge float64) (l Cov, ok bool) {
	for i := range numParams {
		for j := 0; j <= i; j++ {
			s := a[i][j]
			if i == j {
				s *= 1 + ridge
			}
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			if i != j {
				l[i][j] = s / l[j][j]
				continue
			}
			if !(s > 0) {
				return l, false
			}
			l[i][i] = math.Sqrt(s)
		}
	}
	return l, true
}

// solveCholesky solves L·Lᵀ·x = b.
func solveCholesky(l *Cov, b Params) Params {
	for i := range numParams {
		for k := range i {
			b[i] -= l[i][k] * b[k]
		}
		b[i] /= l[i][i]
	}
	for i := numParams - 1; i >= 0; i-- {
		for k := i + 1; k < numParams; k++ {
			b[i] -= l[k][i] * b[k]
		}
		b[i] /= l[i][i]
	}
	return b
}

// scaledFactor is a Cholesky factor of a matrix brought to a unit diagonal, so that
// unlike units do no harm.
type scaledFactor struct {
	l     Cov
	scale Params
}

// choleskyScaled returns the scaled factor of a symmetric positive matrix, with ridge
// times the unit diagonal added; false when it is not positive definite.
func choleskyScaled(a Cov, ridge float64) (f scaledFactor, ok bool) {
	for i := range f.scale {
		if !(a[i][i] > 0) {
			return f, false
		}
		f.scale[i] = 1 / math.Sqrt(a[i][i])
	}
	for i := range a {
		for j := range a[i] {
			a[i][j] *= f.scale[i] * f.scale[j]
		}
	}
	f.l, ok = cholesky(a, ridge)
	return f, ok
}

// solve returns x of a·x = b.
func (f *scaledFactor) solve(b Params) Params {
	for i := range b {
		b[i] *= f.scale[i]
	}
	b = solveCholesky(&f.l, b)
	for i := range b {
		b[i] *= f.scale[i]
	}
	return b
}

// invert returns the inverse of a symmetric positive matrix.
func invert(a Cov) (inv Cov, ok bool) {
	f, ok := choleskyScaled(a, 1e-14)
	if !ok {
		return Cov{}, false
	}
	for j := range numParams {
		var e Params
		e[j] = 1
		col := f.solve(e)
		for i := range col {
			inv[i][j] = col[i]
		}
	}
	return inv, true
}

// invert3 returns the inverse of a 3×3 matrix; false when it is singular.
func invert3(m geom.Mat3) (geom.Mat3, bool) {
	a, b, c := m.Row(0), m.Row(1), m.Row(2)
	bc, ca, ab := b.Cross(c), c.Cross(a), a.Cross(b)
	det := a.Dot(bc)
	if !(math.Abs(det) > 1e-14*a.Norm()*b.Norm()*c.Norm()) {
		return geom.Mat3{}, false
	}
	// The columns of the inverse are b×c, c×a and a×b over the determinant.
	inv := geom.Rows(bc, ca, ab).T()
	for i := range inv {
		inv[i] /= det
	}
	return inv, true
}
