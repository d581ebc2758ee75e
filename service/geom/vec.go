package geom

import "math"

// Vec3 is a point or a free vector in metres (or metres a second), in the axes
// that the holder names; court axes unless said otherwise: X toward the net,
// Y up, Z to the right of a player who faces the net
// (Wu & Cavanagh 1995, ISB recommendation).
type Vec3 struct{ X, Y, Z float64 }

// Add returns a + b.
func (a Vec3) Add(b Vec3) Vec3 { return Vec3{a.X + b.X, a.Y + b.Y, a.Z + b.Z} }

// Sub returns a − b.
func (a Vec3) Sub(b Vec3) Vec3 { return Vec3{a.X - b.X, a.Y - b.Y, a.Z - b.Z} }

// Scale returns k·a.
func (a Vec3) Scale(k float64) Vec3 { return Vec3{k * a.X, k * a.Y, k * a.Z} }

// Dot returns the inner product of a and b.
func (a Vec3) Dot(b Vec3) float64 { return a.X*b.X + a.Y*b.Y + a.Z*b.Z }

// Cross returns the right-handed vector product a × b.
func (a Vec3) Cross(b Vec3) Vec3 {
	return Vec3{a.Y*b.Z - a.Z*b.Y, a.Z*b.X - a.X*b.Z, a.X*b.Y - a.Y*b.X}
}

// Norm returns the length of a, in [0, ∞).
func (a Vec3) Norm() float64 { return math.Sqrt(a.Dot(a)) }

// Unit returns a scaled to length 1; the zero vector stays zero.
func (a Vec3) Unit() Vec3 {
	n := a.Norm()
	if n == 0 {
		return a
	}
	return a.Scale(1 / n)
}

// Lerp returns (1 − t)·a + t·b.
func (a Vec3) Lerp(b Vec3, t float64) Vec3 {
	return Vec3{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y), a.Z + t*(b.Z-a.Z)}
}

// Flat returns the horizontal part of a: Y set to zero.
func (a Vec3) Flat() Vec3 { return Vec3{a.X, 0, a.Z} }

// MirrorZ returns a seen in the plane Z = 0: how a left-hander becomes a right-hander.
func (a Vec3) MirrorZ() Vec3 { return Vec3{a.X, a.Y, -a.Z} }

// Finite reports whether every component is a finite number.
func (a Vec3) Finite() bool {
	s := a.X + a.Y + a.Z
	return !math.IsNaN(s) && !math.IsInf(s, 0) && !math.IsInf(a.X, 0) && !math.IsInf(a.Y, 0)
}
