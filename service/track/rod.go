package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/geom"
)

// The racket is one rigid rod: a grip centre that moves in space and a unit
// axis u that moves on the sphere. Around a reference course the axis is
// u + α·e1 + β·e2, with e1, e2 carried along without twist (parallel
// transport), so a racket that turns evenly in a plane has no jerk at all. The
// course of the axis is rolled out onto the plane (its development), where the
// prior of the other points applies: Gauss–Newton on the sphere.
const rodDims = 5 // grip x, y, z, α, β at each node

// rodSight is a sight of a point on the racket's axis.
type rodSight struct {
	sight
	along float64 // metres from the grip centre toward the tip
}

// rod is the Gaussian posterior over the racket's course.
type rod struct {
	g      *grid
	grip   []geom.Vec3 // at the nodes
	axis   []geom.Vec3 // unit, butt → tip
	e1, e2 []geom.Vec3 // transported frame, ⟂ axis
	s1, s2 []float64   // development of the axis's course
	room   *room       // where its matrices are from; nil: nowhere
	fac    *band       // nil in a room until it is needed
	x      []float64   // the step

	sights   []rodSight
	glances  []glance  // the sights by instant
	handJerk []float64 // weights of the prior on the grip's motion
	turnJerk []float64 // and on the axis's development
	prior    rows      // what else is believed
	alone    bool      // one camera's image is all that shows it
	// bursts holds factors on the density of the hand's and of the axis's jerk, for
	// each stencil; nil: 1.
	handBursts, turnBursts []float64

	shake *rodShaker // of draws; nil: none was asked for since the last step

	tip    float64 // metres from the grip centre to the tip
	struck float64 // metres from the grip centre of a point that impact must slow; 0: not said
	blow   blow
}

// glance is what is seen of the rod at one instant: sights from … to−1.
type glance struct {
	knot
	from, to int
	bent     float64 // information on the axis by second order, 1/rad²
}

// blow is what the ball's flight says of the racket: the speed along dir of the
// point along metres from the grip centre, just before impact.
type blow struct {
	on        bool
	dir       geom.Vec3
	along     float64
	speed, sd float64 // m/s
}

// newRod returns a rod at the reference course (grip, axis) on g's nodes.
func newRod(room *room, g *grid, grip, axis []geom.Vec3) *rod {
	n := len(axis)
	r := &rod{room: room, g: g, grip: grip, axis: axis, tip: usualLength - gripFromButt}
	if room == nil {
		r.fac = &band{}
	}
	e, s := make([]geom.Vec3, 2*n), make([]float64, 2*n)
	r.e1, r.e2 = e[:n:n], e[n:]
	r.s1, r.s2 = s[:n:n], s[n:]
	r.transport()
	return r
}

// setOut puts r back onto another rod's course, on the same grid.
func (r *rod) setOut(o *rod) {
	copy(r.grip, o.grip)
	copy(r.axis, o.axis)
	r.transport()
}

// transport carries a frame along the axis without twist, and rolls the axis's
// course out in it: plane coordinates s1, s2 whose increments are the
// great-circle steps.
func (r *rod) transport() {
	e := anyPerpendicular(r.axis[0])
	a := r.axis[0]
	r.e1[0], r.e2[0] = e, a.Cross(e)
	r.s1[0], r.s2[0] = 0, 0
	for k := 1; k < len(r.axis); k++ {
		b := r.axis[k]
		c := b.Dot(a)
		step := b.Sub(a.Scale(c))
		if l := step.Norm(); l > 0 {
			step = step.Scale(math.Atan2(l, c) / l)
		}
		r.s1[k] = r.s1[k-1] + step.Dot(r.e1[k-1])
		r.s2[k] = r.s2[k-1] + step.Dot(r.e2[k-1])
		e = carry(a, b, e)
		r.e1[k], r.e2[k] = e, b.Cross(e)
		a = b
	}
}

func anyPerpendicular(u geom.Vec3) geom.Vec3 {
	a := geom.Vec3{Y: 1}
	if math.Abs(u.Y) > 0.8 {
		a = geom.Vec3{X: 1}
	}
	return a.Sub(u.Scale(a.Dot(u))).Unit()
}

// carry turns e by the smallest rotation that takes unit vector a to unit
// vector b, and cleans it to be perpendicular to b.
func carry(a, b, e geom.Vec3) geom.Vec3 {
	// Rodrigues with axis a×b: e + (a×b)×e + (a×b)((a×b)·e)/(1+a·b).
	x, c := a.Cross(b), a.Dot(b)
	if c < -0.999999 {
		return e
	}
	f := e.Scale(c).Add(x.Cross(e)).Add(x.Scale(x.Dot(e) / (1 + c)))
	return f.Sub(b.Scale(f.Dot(b))).Unit()
}

// look takes the sights, which are in time order, and groups them by instant.
func (r *rod) look(sights []rodSight) {
	if len(sights) == len(r.sights) && (len(sights) == 0 || &sights[0] == &r.sights[0]) {
		return
	}
	instants := 0
	for i := range sights {
		if i == 0 || sights[i].t != sights[i-1].t {
			instants++
		}
	}
	r.sights, r.glances = sights, slices.Grow(r.glances[:0], instants)
	next := 0 // the first node that is not before the sight
	for i := 0; i < len(sights); {
		t := sights[i].t
		for next < len(r.g.t) && r.g.t[next] < t {
			next++
		}
		lo, hi := r.g.side(t)
		first := max(lo, min(next-2, hi-3))
		v := glance{knot: knot{first, r.g.lagrange(first, t)}, from: i}
		for i < len(sights) && sights[i].t == t {
			i++
		}
		v.to = i
		r.glances = append(r.glances, v)
	}
	r.alone = !r.seenInSpace()
}

// improve makes one Gauss–Newton step: the sights and the prior are linearised
// about the present course, which then moves to the solution. It returns the
// largest turn of the axis, radians.
func (r *rod) improve(sights []rodSight, hand, turn rough) (float64, bool) {
	r.look(sights)
	return r.step(hand, turn, false)
}

// step is improve for the sights that were looked at; anew says whether they are weighed
// for the present course before.
func (r *rod) step(hand, turn rough, anew bool) (float64, bool) {
	n := len(r.axis)
	if len(r.x) < n*rodDims {
		r.x = make([]float64, n*rodDims)
	}
	x := r.x
	clear(x)
	r.shake = nil
	if r.fac == nil {
		r.fac = r.room.band()
	}
	r.layBand(r.fac)
	r.handJerk, r.turnJerk = r.g.jerkWeights(r.handJerk, hand, r.handBursts), r.g.jerkWeights(r.turnJerk, turn, r.turnBursts)
	r.believe(r.fac, x)
	r.prior.reset()
	r.peakPrior()
	r.impactPrior()
	r.blowPrior()
	r.prior.inform(r.fac, x)
	r.addGlances(x, anew)
	anchorLoose(r.fac)
	if !r.fac.factor() {
		return 0, false
	}
	r.fac.solve(x)
	most := 0.0
	for k := range n {
		d := x[k*rodDims:]
		r.grip[k] = geom.Vec3{X: d[0], Y: d[1], Z: d[2]}
		most = math.Max(most, d[3]*d[3]+d[4]*d[4])
		r.axis[k] = turned(r.axis[k], r.e1[k], r.e2[k], d[3], d[4])
	}
	r.transport()
	return math.Sqrt(most), true
}

// turned moves u along the sphere by the tangent vector a·e1 + b·e2; steps
// are held under 0.7 rad so that the linearisation stays meaningful.
func turned(u, e1, e2 geom.Vec3, a, b float64) geom.Vec3 {
	const most = 0.7
	q := a*a + b*b
	if !(q < most*most) {
		l := math.Sqrt(q)
		s, c := math.Sincos(most)
		a, b = a*(s/l), b*(s/l)
		return geom.Vec3{X: u.X*c + e1.X*a + e2.X*b, Y: u.Y*c + e1.Y*a + e2.Y*b, Z: u.Z*c + e1.Z*a + e2.Z*b}
	}
	// cos l and sin l / l by their series in q = l², whose terms left out are under 2⁻⁵² here.
	const c1, c2, c3, c4 = 1. / 2, 1. / 12, 1. / 30, 1. / 56
	const s1, s2, s3, s4 = 1. / 6, 1. / 20, 1. / 42, 1. / 72
	c := 1 - q*c1*(1-q*c2*(1-q*c3*(1-q*c4)))
	s := 1 - q*s1*(1-q*s2*(1-q*s3*(1-q*s4)))
	if q > 0.01 {
		const c5, c6, c7 = 1. / (9 * 10), 1. / (11 * 12), 1. / (13 * 14)
		const s5, s6, s7 = 1. / (10 * 11), 1. / (12 * 13), 1. / (14 * 15)
		c = 1 - q*c1*(1-q*c2*(1-q*c3*(1-q*c4*(1-q*c5*(1-q*c6*(1-q*c7))))))
		s = 1 - q*s1*(1-q*s2*(1-q*s3*(1-q*s4*(1-q*s5*(1-q*s6*(1-q*s7))))))
	}
	a, b = a*s, b*s
	return geom.Vec3{X: u.X*c + e1.X*a + e2.X*b, Y: u.Y*c + e1.Y*a + e2.Y*b, Z: u.Z*c + e1.Z*a + e2.Z*b}
}

// layBand makes b a zero matrix that reaches back three nodes, and at the end of impactRows
// four.
func (r *rod) layBand(b *band) {
	wide := -1
	if r.struck != 0 {
		wide = r.g.brk + 2
	}
	b.resetFives(len(r.axis), 3, wide)
}

// evidence returns the log marginal likelihood of the sights at the present
// course, up to a constant of the grid: Laplace's approximation (MacKay 2003,
// Information Theory, §27). The course must be the solution for them that improve has found.
func (r *rod) evidence(sights []rodSight) float64 {
	loss, prior := 0.0, 0.0
	r.look(sights)
	for i := range r.glances {
		v := &r.glances[i]
		grip, axis := r.read(v)
		for k := v.from; k < v.to; k++ {
			s := &sights[k]
			loss += 0.5 * s.w * s.chi2(grip.Add(axis.Scale(s.along)))
		}
	}
	prior += square(r.blowMisfit())
	for _, w := range r.impactRows() {
		prior += w.now * w.now / (tipKeptSD * tipKeptSD)
	}
	var hands, turns product
	s1, s2 := r.s1, r.s2
	for i := range r.g.inv {
		w := r.g.jerk(i)
		j := combine(r.grip[i:i+4], w)
		prior += r.handJerk[i] * j.Dot(j)
		hands.times(r.handJerk[i])
		a := w[0]*s1[i] + w[1]*s1[i+1] + w[2]*s1[i+2] + w[3]*s1[i+3]
		b := w[0]*s2[i] + w[1]*s2[i+1] + w[2]*s2[i+2] + w[3]*s2[i+3]
		prior += r.turnJerk[i] * (a*a + b*b)
		turns.times(r.turnJerk[i])
	}
	weights := 3*hands.log() + 2*turns.log()
	return 0.5*(weights-r.fac.logDet()) - loss - 0.5*prior
}

// onto returns a rod with the same course on the nodes of another grid.
func (r *rod) onto(g *grid) *rod {
	grip, axis := make([]geom.Vec3, len(g.t)), make([]geom.Vec3, len(g.t))
	for i, t := range g.t {
		grip[i], axis[i] = r.at(t, 0), r.axisAt(t)
	}
	q := newRod(r.room, g, grip, axis)
	q.blow, q.struck, q.tip = r.blow, r.struck, r.tip
	return q
}

// read returns the grip centre and the unit axis at a glance.
func (r *rod) read(v *glance) (grip, axis geom.Vec3) {
	return combine(r.grip[v.first:v.first+4], v.w), combine(r.axis[v.first:v.first+4], v.w).Unit()
}

// at returns the place at t of the point that lies along metres from the grip
// centre toward the tip.
func (r *rod) at(t, along float64) geom.Vec3 {
	first, w := r.g.stencil(t)
	return combine(r.grip[first:first+4], w).Add(r.axisAt(t).Scale(along))
}

// axisAt returns the unit axis at t.
func (r *rod) axisAt(t float64) geom.Vec3 {
	first, w := r.g.stencil(t)
	return combine(r.axis[first:first+4], w).Unit()
}
