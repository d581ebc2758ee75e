package geom

import "math"

// Mat3 is a 3×3 matrix, row-major.
type Mat3 [9]float64

// Identity3 is the unit matrix.
var Identity3 = Mat3{1, 0, 0, 0, 1, 0, 0, 0, 1}

// Apply returns m·v.
func (m Mat3) Apply(v Vec3) Vec3 {
	return Vec3{
		m[0]*v.X + m[1]*v.Y + m[2]*v.Z,
		m[3]*v.X + m[4]*v.Y + m[5]*v.Z,
		m[6]*v.X + m[7]*v.Y + m[8]*v.Z,
	}
}

// Mul returns the product m·n.
func (m Mat3) Mul(n Mat3) Mat3 {
	var r Mat3
	for i := range 3 {
		for j := range 3 {
			r[3*i+j] = m[3*i]*n[j] + m[3*i+1]*n[3+j] + m[3*i+2]*n[6+j]
		}
	}
	return r
}

// T returns the transpose of m: the inverse of a rotation.
func (m Mat3) T() Mat3 {
	return Mat3{m[0], m[3], m[6], m[1], m[4], m[7], m[2], m[5], m[8]}
}

// Rows returns the matrix whose rows are a, b and c.
func Rows(a, b, c Vec3) Mat3 {
	return Mat3{a.X, a.Y, a.Z, b.X, b.Y, b.Z, c.X, c.Y, c.Z}
}

// Row returns row i of m, i in {0, 1, 2}.
func (m Mat3) Row(i int) Vec3 { return Vec3{m[3*i], m[3*i+1], m[3*i+2]} }

// RotationAbout returns the right-handed rotation by angle about the unit vector axis
// (Rodrigues' formula).
func RotationAbout(axis Vec3, angle Angle) Mat3 {
	s, c := math.Sincos(float64(angle))
	x, y, z := axis.X, axis.Y, axis.Z
	d := 1 - c
	return Mat3{
		c + x*x*d, x*y*d - z*s, x*z*d + y*s,
		y*x*d + z*s, c + y*y*d, y*z*d - x*s,
		z*x*d - y*s, z*y*d + x*s, c + z*z*d,
	}
}

// Add returns m + n.
func (m Mat3) Add(n Mat3) Mat3 {
	for i := range m {
		m[i] += n[i]
	}
	return m
}

// Scale returns k·m.
func (m Mat3) Scale(k float64) Mat3 {
	for i := range m {
		m[i] *= k
	}
	return m
}

// Det returns the determinant of m: the signed volume that its rows span.
func (m Mat3) Det() float64 { return m.Row(0).Dot(m.Row(1).Cross(m.Row(2))) }

// Inverse returns m⁻¹ by cofactors, or false when m is singular, or so near to
// it that the result is not finite.
func (m Mat3) Inverse() (Mat3, bool) {
	a, b, c := m.Row(0), m.Row(1), m.Row(2)
	bc := b.Cross(c)
	inv := Rows(bc, c.Cross(a), a.Cross(b)).T().Scale(1 / a.Dot(bc))
	for _, v := range inv {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Mat3{}, false
		}
	}
	return inv, true
}
