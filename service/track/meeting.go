package track

import (
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// A ball breaks its flight at a bounce, too, and harder than at a soft volley: a
// smash comes down a tenth of a second after the blow, a half volley is hit
// within as much of the bounce. But where it meets the strings, the racket is.

// Ball and racket are told to be apart at an instant by the medians of their sights
// within meetSpan of it, meetLeast at least of each; within meetReach of one another
// they may meet: half of what a ball of 40 m/s goes in that span, and a head's length.
const (
	meetSpan  = 0.030 // s
	meetLeast = 3
	meetReach = 1.0 // m
	// apartCost is what impact costs at an instant at which they are apart, nats: more
	// than a clear break is worth. Where they never meet, all instants cost the same.
	apartCost = 1000.0
)

// meeting is the clue that ball and racket are in one place at impact, in the world.
type meeting struct {
	ball, racket []sight
}

// meet returns the clue where the world shows ball and racket.
func (m *scene) meet() (meeting, bool) {
	c := meeting{m.sights[body.Ball], m.sights[body.RacketTip]}
	return c, m.rig == nil && len(c.ball) >= meetLeast && len(c.racket) >= meetLeast
}

// apart returns the distance of ball and racket about t, metres; 0 where it is not known.
func (c meeting) apart(t float64) float64 {
	b, r := within(c.ball, t-meetSpan, t+meetSpan), within(c.racket, t-meetSpan, t+meetSpan)
	if len(b) < meetLeast || len(r) < meetLeast {
		return 0
	}
	d := geom.Vec3{X: medianOf(b, 0) - medianOf(r, 0), Y: medianOf(b, 1) - medianOf(r, 1), Z: medianOf(b, 2) - medianOf(r, 2)}
	return d.Norm()
}

// medianOf returns the median of a coordinate, so that no single outlier counts.
func medianOf(s []sight, axis int) float64 {
	var room [64]float64
	x := room[:0]
	for i := range s {
		x = append(x, [3]float64{s[i].p.X, s[i].p.Y, s[i].p.Z}[axis])
	}
	slices.Sort(x)
	return x[len(x)/2]
}

func (c meeting) choose(ts []float64) []float64 {
	vs := make([]float64, len(ts))
	for i, t := range ts {
		if c.apart(t) > meetReach {
			vs[i] = -apartCost
		}
	}
	return vs
}

func (c meeting) finer(ts []float64, _ float64) []float64 { return make([]float64, len(ts)) }
