package geom

import "math"

// Angle is an angle in radians; the wire and people read degrees.
type Angle float64

// Deg is one degree.
const Deg Angle = math.Pi / 180

// Degrees returns the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a) * 180 / math.Pi }

// Radians returns the angle in radians.
func (a Angle) Radians() float64 { return float64(a) }

// Wrapped returns the same direction in (−π, π].
func (a Angle) Wrapped() Angle {
	w := math.Remainder(float64(a), 2*math.Pi)
	if w <= -math.Pi {
		w = math.Pi
	}
	return Angle(w)
}

// Between returns the angle between two vectors, in [0, π]; 0 when either is
// zero. It uses atan2 of the cross and inner products, which keeps full
// precision near 0 and π where acos does not (Kahan 2006, "How futile are
// mindless assessments of roundoff", §12).
func Between(a, b Vec3) Angle {
	return Angle(math.Atan2(a.Cross(b).Norm(), a.Dot(b)))
}
