package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// How long before the break ball and strings met. Across a hold of unknown length the break
// tells that by half of it alone, 1.25 ms early on an even 0 to 5 ms. But where ball and
// racket are seen in space, their places tell it: the ball comes freely until its surface is
// on the strings, so at the break, to which both are read on from before, its centre is the
// lead times their closing speed deeper than its radius before them.

const (
	ballRadius = 0.0335 // m (ITF rules of tennis, appendix I: 6.54–6.86 cm across)
	// faceDoubt is how well the strings' plane is known where the ball meets it, as an sd, metres:
	// balls are struck some 3 cm beside the middle, and friction leans the blow some 15 degrees
	// from the normal, 8 mm; detectors put the middle of the head to as much again.
	// Own estimate.
	faceDoubt   = 0.012
	leastClose  = 8.0 // m/s: under it places say too little
	touchAgrees = 3.0 // sds of one another, within which places and break tell of the same touch
)

// touch returns the instant at which ball and strings met, which the break puts at at: with what
// their places at the break say, where they are seen in space.
func (m *scene) touch(at when) when {
	lead, sd, ok := m.leadByPlaces()
	if !ok || at.sd > nearContact {
		return at
	}
	places := m.g.t[m.g.brk] - lead
	if math.Abs(places-at.mean) > touchAgrees*math.Hypot(sd, at.sd) {
		return at
	}
	a, b := 1/(at.sd*at.sd), 1/(sd*sd)
	return when{(a*at.mean + b*places) / (a + b), math.Sqrt(1 / (a + b))}
}

// leadByPlaces returns by how much ball and strings met before the break, with its sd, seconds;
// false where one of them is not seen in space.
func (m *scene) leadByPlaces() (lead, sd float64, ok bool) {
	b, r := m.flight.ball, m.racket
	if b == nil || r == nil || !b.seen[0] || m.oneEye() || r.g.brk < 3 {
		return 0, 0, false
	}
	middle := (m.along(body.RacketTip) + m.along(body.RacketThroat)) / 2
	i, u := r.g.brk, r.axis[r.g.brk]
	w := r.g.slope(i-3, r.g.t[i])
	head := r.grip[i].Add(u.Scale(middle))
	speed := combine(r.grip[i-3:i+1], w).Add(combine(r.axis[i-3:i+1], w).Scale(middle))
	in, out := b.velocities(nil)
	blow := out.Sub(in)
	if !b.seen[1] {
		blow = speed.Sub(in)
	}
	n := blow.Sub(u.Scale(blow.Dot(u))).Unit()
	closing := speed.Sub(in).Dot(n)
	if !(closing > leastClose) {
		return 0, 0, false
	}
	lead = (ballRadius - b.vec(0).Sub(head).Dot(n)) / closing
	variance := faceDoubt*faceDoubt + b.varianceAlong(n) + r.varianceAlong(middle, n)
	return lead, math.Sqrt(variance) / closing, true
}

// varianceAlong is the variance along the unit vector n of where the flight before impact
// is at the break, m².
func (b *ballFit) varianceAlong(n geom.Vec3) float64 {
	x := [fitDims]float64{n.X, n.Y, n.Z}
	b.fac.solve(x[:])
	return n.Dot(geom.Vec3{X: x[0], Y: x[1], Z: x[2]})
}

// varianceAlong is the same of the racket's point that lies along metres from the grip centre.
func (r *rod) varianceAlong(along float64, n geom.Vec3) float64 {
	x := make([]float64, len(r.axis)*rodDims)
	i := r.g.brk
	c := [rodDims]float64{n.X, n.Y, n.Z, along * n.Dot(r.e1[i]), along * n.Dot(r.e2[i])}
	copy(x[i*rodDims:], c[:])
	r.fac.solve(x)
	v := 0.0
	for k, w := range c {
		v += w * x[i*rodDims+k]
	}
	return v
}
