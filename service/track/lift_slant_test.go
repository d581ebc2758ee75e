package track

import (
	"math"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestSlantComesToRest tilts a segment of one length step by step as a lift does, where nothing
// else holds it: each step goes toward the tilt at which it has its length and no further,
// to rest where the image shows it as long or longer.
func TestSlantComesToRest(t *testing.T) {
	const sd, lam = 0.01, 8.0
	for _, length := range []float64{0.3, 0.39, 0.4, 0.41, 0.5} {
		rays := between(geom.Vec3{X: 0.05, Z: 1}, geom.Vec3{X: 0.1, Z: 1}) // 0.4 m across at 8 m
		want := rays.at(lam, lam, length).h
		for _, from := range []float64{-0.4, -0.1, -0.01, 0.01, 0.05, 0.2, 0.4} {
			u := from
			for k := range 60 {
				s := rays.at(lam, lam, length)
				s.u = u
				across := lam * s.p
				s.present = math.Sqrt(across*across + s.r2*u*u)
				pull := s.r2 * u / s.present * (s.present - length) / (sd * sd)
				next := u - pull/s.bend(length, sd)
				if over := (math.Abs(next) - want) * (math.Abs(u) - want); next*u < -1e-12 || over < -1e-6 {
					t.Fatalf("length %g from %g: step %d goes from %g to %g, past %g", length, from, k, u, next, want)
				}
				u = next
			}
			if d := math.Abs(math.Abs(u) - want); d > 0.02 {
				t.Errorf("length %g from %g: rests at %g, %g from where it has its length", length, from, u, d)
			}
		}
	}
}
