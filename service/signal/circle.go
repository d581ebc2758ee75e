package signal

import (
	"math"

	"example.com/courtkin/service/geom"
)

// Directions sums up directions in a plane by the mean of their unit vectors.
type Directions struct {
	N    int
	Mean geom.Angle // in (−π, π]; NaN when the vectors cancel or there are none
	R    float64    // length of the mean vector, in [0, 1]: 1 all alike, 0 spread all round
}

// cancelled is the length below which a mean vector is rounding noise and has no direction.
const cancelled = 1e-12

// CircularMean returns the mean direction, blind to where the circle is cut
// (Zar, Biostatistical Analysis, ch. 26; Fisher 1993, §2.3).
func CircularMean(a []geom.Angle) Directions {
	c, s := 0.0, 0.0
	for _, v := range a {
		sin, cos := math.Sincos(v.Radians())
		c += cos
		s += sin
	}
	r := math.Hypot(c, s) / float64(len(a))
	d := Directions{N: len(a), Mean: geom.Angle(math.Atan2(s, c)), R: min(r, 1)}
	if !(r > cancelled) {
		d.Mean = geom.Angle(math.NaN())
	}
	return d
}

// SD returns the circular standard deviation √(−2 ln R), in [0, ∞)
// (Mardia 1972); near the ordinary one while the spread is small.
func (d Directions) SD() geom.Angle { return geom.Angle(math.Sqrt(-2 * math.Log(d.R))) }

// Deviation returns the angular deviation √(2(1 − R)), in [0, √2] radians (Zar).
func (d Directions) Deviation() geom.Angle { return geom.Angle(math.Sqrt(2 * (1 - d.R))) }

// RayleighZ returns n·R², large when the directions have one preferred side.
func (d Directions) RayleighZ() float64 { return float64(d.N) * d.R * d.R }
