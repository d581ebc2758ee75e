package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// flightSums are the normal equations of a flight's nine numbers: the place at
// impact and the velocities before and after, which share sights with the place and
// none with each other.
//
//	⎡ place   with[0]  with[1] ⎤
//	⎢         v[0]        0    ⎥
//	⎣                  v[1]    ⎦
//
// What a sight says of the place it says of a velocity times the gain, the way made
// over the velocity, so that every block is symmetric.
type flightSums struct {
	place   sym3
	with, v [2]sym3
	toPlace geom.Vec3
	toV     [2]geom.Vec3

	rest sym3    // factor of what is left of place without the velocities
	fac  [2]sym3 // factors of v
}

// add adds a sight on one side: its information of the place, its pull on it, both
// times the weight w.
func (q *flightSums) add(side int, gain float64, info *sym3, pull geom.Vec3, w float64) {
	with, v := &q.with[side], &q.v[side]
	for i, c := range info {
		c *= w
		q.place[i] += c
		c *= gain
		with[i] += c
		v[i] += gain * c
	}
	pull = pull.Scale(w)
	q.toPlace = q.toPlace.Add(pull)
	q.toV[side] = q.toV[side].Add(pull.Scale(gain))
}

// factor eliminates the velocities (Schur complement), the diagonal raised by the share
// damping, and reports whether all is positive definite.
func (q *flightSums) factor(damping float64) bool {
	q.rest = q.place.raised(damping)
	for side := range q.v {
		fac, ok := q.v[side].raised(damping).cholesky()
		if !ok {
			return false
		}
		q.fac[side] = fac
		// with·v⁻¹·with, by the rows of with divided by the factor.
		w, l := &q.with[side], &q.fac[side]
		x := l.forward(geom.Vec3{X: w[0], Y: w[1], Z: w[3]})
		y := l.forward(geom.Vec3{X: w[1], Y: w[2], Z: w[4]})
		z := l.forward(geom.Vec3{X: w[3], Y: w[4], Z: w[5]})
		q.rest[0] -= x.Dot(x)
		q.rest[1] -= y.Dot(x)
		q.rest[2] -= y.Dot(y)
		q.rest[3] -= z.Dot(x)
		q.rest[4] -= z.Dot(y)
		q.rest[5] -= z.Dot(z)
	}
	l, ok := q.rest.cholesky()
	q.rest = l
	return ok
}

// solve solves for place and velocities (after factor).
func (q *flightSums) solve(x [3]geom.Vec3) [3]geom.Vec3 {
	a, b := q.fac[0].solve(x[1]), q.fac[1].solve(x[2])
	x[0] = q.rest.solve(x[0].Sub(q.with[0].apply(a)).Sub(q.with[1].apply(b)))
	x[1] = a.Sub(q.fac[0].solve(q.with[0].apply(x[0])))
	x[2] = b.Sub(q.fac[1].solve(q.with[1].apply(x[0])))
	return x
}

// logDet returns the logarithm of the determinant (after factor).
func (q *flightSums) logDet() float64 {
	d := 1.0
	for _, l := range [...]*sym3{&q.rest, &q.fac[0], &q.fac[1]} {
		d *= l[0] * l[2] * l[5]
	}
	return -2 * math.Log(d)
}

// sym3 is a symmetric 3×3 matrix by its lower triangle: xx, yx, yy, zx, zy, zz; or a
// lower triangular factor, whose diagonal then holds the inverses.
type sym3 [6]float64

func diagonal(v float64) sym3 { return sym3{v, 0, v, 0, 0, v} }

// raised returns m with its diagonal raised by a share.
func (m sym3) raised(share float64) sym3 {
	share++
	m[0] *= share
	m[2] *= share
	m[5] *= share
	return m
}

// cholesky returns the factor L, m = L·Lᵀ, and whether m is positive definite.
func (m sym3) cholesky() (l sym3, ok bool) {
	l[0] = 1 / math.Sqrt(m[0])
	l[1], l[3] = m[1]*l[0], m[3]*l[0]
	l[2] = 1 / math.Sqrt(m[2]-l[1]*l[1])
	l[4] = (m[4] - l[3]*l[1]) * l[2]
	l[5] = 1 / math.Sqrt(m[5]-l[3]*l[3]-l[4]*l[4])
	d := l[0] * l[2] * l[5]
	return l, d > 0 && !math.IsInf(d, 1)
}

// forward solves L·y = v.
func (m *sym3) forward(v geom.Vec3) geom.Vec3 {
	v.X *= m[0]
	v.Y = (v.Y - m[1]*v.X) * m[2]
	v.Z = (v.Z - m[3]*v.X - m[4]*v.Y) * m[5]
	return v
}

// solve solves L·Lᵀ·y = v.
func (m *sym3) solve(v geom.Vec3) geom.Vec3 {
	v = m.forward(v)
	v.Z *= m[5]
	v.Y = (v.Y - m[4]*v.Z) * m[2]
	v.X = (v.X - m[1]*v.Y - m[3]*v.Z) * m[0]
	return v
}

// apply returns m·v of a symmetric matrix.
func (m *sym3) apply(v geom.Vec3) geom.Vec3 {
	return geom.Vec3{
		X: m[0]*v.X + m[1]*v.Y + m[3]*v.Z,
		Y: m[1]*v.X + m[2]*v.Y + m[4]*v.Z,
		Z: m[3]*v.X + m[4]*v.Y + m[5]*v.Z,
	}
}
