package track

import (
	"math"

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
	fac    *band

	sights []rodSight
	links  []link // how the sights' errors hang together
	lasts  int    // how many strands they make
	seen   rows   // dim() rows a sight
	prior  rows
	// bursts holds factors on the density of the hand's and of the axis's jerk, for
	// each stencil; nil: 1.
	handBursts, turnBursts []float64

	struck float64 // metres from the grip centre of a point that impact must slow; 0: not said
	blow   blow
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
func newRod(g *grid, grip, axis []geom.Vec3) *rod {
	r := &rod{g: g, grip: grip, axis: axis, fac: &band{}}
	r.e1, r.e2 = make([]geom.Vec3, len(axis)), make([]geom.Vec3, len(axis))
	r.transport()
	return r
}

// setOut puts r back onto another rod's course, on the same grid.
func (r *rod) setOut(o *rod) {
	copy(r.grip, o.grip)
	copy(r.axis, o.axis)
	r.transport()
}

// transport carries a frame along the axis without twist.
func (r *rod) transport() {
	e := anyPerpendicular(r.axis[0])
	for k, u := range r.axis {
		if k > 0 {
			e = carry(r.axis[k-1], u, e)
		}
		r.e1[k] = e
		r.e2[k] = u.Cross(e)
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

// roll returns the development of the axis's course in the transported frame:
// plane coordinates whose increments are the great-circle steps.
func (r *rod) roll() (s1, s2 []float64) {
	n := len(r.axis)
	s1, s2 = make([]float64, n), make([]float64, n)
	for k := 1; k < n; k++ {
		a, b := r.axis[k-1], r.axis[k]
		step := b.Sub(a.Scale(b.Dot(a)))
		l := step.Norm()
		if l > 0 {
			step = step.Scale(math.Atan2(l, b.Dot(a)) / l)
		}
		s1[k] = s1[k-1] + step.Dot(r.e1[k-1])
		s2[k] = s2[k-1] + step.Dot(r.e2[k-1])
	}
	return s1, s2
}

// improve makes one Gauss–Newton step: the sights and the prior are linearised
// about the present course, which then moves to the solution. It returns the
// largest turn of the axis, radians.
func (r *rod) improve(sights []rodSight, hand, turn rough) (float64, bool) {
	n := len(r.axis)
	r.sights, r.links = sights, r.links[:0]
	r.prior.reset()
	r.handPrior(hand)
	r.rollPrior(turn)
	r.peakPrior()
	r.impactPrior()
	r.blowPrior()
	r.seen.reset()
	for i := range sights {
		r.addSight(&sights[i])
	}
	x := make([]float64, n*rodDims)
	r.fac.reset(n*rodDims, r.reach())
	r.prior.inform(r.fac, x)
	r.seen.inform(r.fac, x)
	anchorLoose(r.fac)
	if !r.fac.factor() {
		return 0, false
	}
	r.fac.solve(x)
	most := 0.0
	for k := range n {
		d := x[k*rodDims:]
		r.grip[k] = geom.Vec3{X: d[0], Y: d[1], Z: d[2]}
		most = math.Max(most, math.Hypot(d[3], d[4]))
		r.axis[k] = turned(r.axis[k], r.e1[k], r.e2[k], d[3], d[4])
	}
	r.transport()
	return most, true
}

// turned moves u along the sphere by the tangent vector a·e1 + b·e2; steps
// are held under 0.7 rad so that the linearisation stays meaningful.
func turned(u, e1, e2 geom.Vec3, a, b float64) geom.Vec3 {
	l := math.Hypot(a, b)
	if l == 0 {
		return u
	}
	dir := e1.Scale(a / l).Add(e2.Scale(b / l))
	s, c := math.Sincos(math.Min(l, 0.7))
	return u.Scale(c).Add(dir.Scale(s))
}

// reach is the half-bandwidth: four nodes, or the five of impactPrior.
func (r *rod) reach() int {
	if r.struck == 0 {
		return 4*rodDims - 1
	}
	return 5*rodDims - 1
}

// handPrior appends the prior on the grip's motion.
func (r *rod) handPrior(hand rough) {
	for i := range r.g.inv {
		w, weight := r.g.jerk(i), r.g.jerkWeight(i, hand)
		if r.handBursts != nil {
			weight /= r.handBursts[i]
		}
		for k := range 3 {
			for j := range 4 {
				r.prior.entry((i+j)*rodDims+k, w[j])
			}
			r.prior.end(0, weight)
		}
	}
}

// followBursts raises the density of jerk where the present course jerks more than
// the motion allows for.
func (r *rod) followBursts(hand, turn rough) {
	r.handBursts = r.g.bursts(r.grip, hand, 3)
	s1, s2 := r.roll()
	plane := make([]geom.Vec3, len(s1))
	for i := range plane {
		plane[i] = geom.Vec3{X: s1[i], Y: s2[i]}
	}
	r.turnBursts = r.g.bursts(plane, turn, 2)
}

// rollPrior appends the prior on the development of the axis.
func (r *rod) rollPrior(turn rough) {
	s1, s2 := r.roll()
	for i := 0; i+3 < len(r.g.t); i++ {
		w, weight := r.g.jerk(i), r.g.jerkWeight(i, turn)
		if r.turnBursts != nil {
			weight /= r.turnBursts[i]
		}
		for k, s := range [2][]float64{s1, s2} {
			y := 0.0
			for j := range 4 {
				r.prior.entry((i+j)*rodDims+3+k, w[j])
				y -= w[j] * s[i+j]
			}
			r.prior.end(y, weight)
		}
	}
}

// How fast the racket's turn rate changes just before impact, as a share of the
// rate, 1/s. Rackets reach their fastest at impact or within a frame or two
// before it (literature.md §3, order constraints): a rate that peaked 20 ms ago
// on a rise of 0.1 s loses 9 a second, one that peaks at impact loses none.
const (
	peakFall  = -4.0
	peakShare = 5.0 // sd
)

// peakPrior holds the change of the turn rate, and of the hand's speed, just
// before impact to peakFall, within peakShare.
func (r *rod) peakPrior() {
	b := r.g.brk
	if b < 3 {
		return
	}
	n := r.g.t[b-3 : b+1]
	v, a := slope(n, n[3]), curve(n, n[3])
	hand := combine(r.grip[b-3:b+1], v)
	if l := hand.Norm(); l > 1 { // m/s
		d := hand.Scale(1 / l)
		for j := range 4 {
			r.prior.entry((b-3+j)*rodDims, a[j]*d.X)
			r.prior.entry((b-3+j)*rodDims+1, a[j]*d.Y)
			r.prior.entry((b-3+j)*rodDims+2, a[j]*d.Z)
		}
		r.prior.end(peakFall*l, 1/(peakShare*l*peakShare*l))
	}
	s1, s2 := r.roll()
	var d1, d2, y1, y2 float64
	for j := range 4 {
		d1 += v[j] * s1[b-3+j]
		d2 += v[j] * s2[b-3+j]
		y1 -= a[j] * s1[b-3+j]
		y2 -= a[j] * s2[b-3+j]
	}
	rate := math.Hypot(d1, d2)
	if rate < 3 { // rad/s: a racket that hardly turns has no peak
		return
	}
	d1, d2 = d1/rate, d2/rate
	for j := range 4 {
		r.prior.entry((b-3+j)*rodDims+3, a[j]*d1)
		r.prior.entry((b-3+j)*rodDims+4, a[j]*d2)
	}
	r.prior.end(peakFall*rate+y1*d1+y2*d2, 1/(peakShare*rate*peakShare*rate))
}

// Impact leaves about three quarters of the racket's speed at the tip
// (literature.md 4.2: 20–30 % are lost).
const (
	tipKeeps  = 0.75
	tipKeptSD = 2.5 // m/s
)

// impactPrior holds the struck point's velocity after impact to tipKeeps of the
// one before.
func (r *rod) impactPrior() {
	for _, w := range r.impactRows() {
		for j, k := range w.idx {
			r.prior.entry(k, w.c[j])
		}
		r.prior.end(w.y, 1/(tipKeptSD*tipKeptSD))
	}
}

type impactRow struct {
	idx []int
	c   []float64
	y   float64 // of the increments about the present course
	now float64 // misfit of the present course, m/s
}

// impactRows returns the rows of impactPrior, one for each axis.
func (r *rod) impactRows() (out []impactRow) {
	b := r.g.brk
	if r.struck == 0 || b < 2 || b+2 >= len(r.g.t) {
		return nil
	}
	before, after := edgeSlope(r.g.t[b-2:b+1], 2), edgeSlope(r.g.t[b:b+3], 0)
	var w [5]float64
	for j := range 3 {
		w[j] -= tipKeeps * before[j]
		w[j+2] += after[j]
	}
	for k, axis := range [3]geom.Vec3{{X: 1}, {Y: 1}, {Z: 1}} {
		var row impactRow
		for j := range w {
			n := b - 2 + j
			f := w[j] * r.struck
			row.idx = append(row.idx, n*rodDims+k, n*rodDims+3, n*rodDims+4)
			row.c = append(row.c, w[j], f*axis.Dot(r.e1[n]), f*axis.Dot(r.e2[n]))
			row.y -= f * axis.Dot(r.axis[n])
			row.now += w[j]*axis.Dot(r.grip[n]) + f*axis.Dot(r.axis[n])
		}
		out = append(out, row)
	}
	return out
}

// blowPrior holds the struck point's speed to what the ball's flight says.
func (r *rod) blowPrior() {
	b := r.g.brk
	if !r.blow.on || b < 3 {
		return
	}
	w := slope(r.g.t[b-3:b+1], r.g.t[b])
	y, d := r.blow.speed, r.blow.dir
	for j := range w {
		n := b - 3 + j
		r.prior.entry(n*rodDims, w[j]*d.X)
		r.prior.entry(n*rodDims+1, w[j]*d.Y)
		r.prior.entry(n*rodDims+2, w[j]*d.Z)
		f := w[j] * r.blow.along
		r.prior.entry(n*rodDims+3, f*d.Dot(r.e1[n]))
		r.prior.entry(n*rodDims+4, f*d.Dot(r.e2[n]))
		y -= f * d.Dot(r.axis[n])
	}
	r.prior.end(y, 1/(r.blow.sd*r.blow.sd))
}

// blowMisfit is how far, in sds, the present course is from what the ball says.
func (r *rod) blowMisfit() float64 {
	b := r.g.brk
	if !r.blow.on || b < 3 {
		return 0
	}
	w := slope(r.g.t[b-3:b+1], r.g.t[b])
	v := combine(r.grip[b-3:b+1], w).Add(combine(r.axis[b-3:b+1], w).Scale(r.blow.along))
	return (v.Dot(r.blow.dir) - r.blow.speed) / r.blow.sd
}

// addSight appends a sight, linearised at the present course.
func (r *rod) addSight(s *rodSight) {
	first, w := r.g.stencil(s.t)
	ref := combine(r.grip[first:first+4], w).Add(combine(r.axis[first:first+4], w).Scale(s.along))
	var room [3]line
	for _, l := range s.lines(ref, room[:0]) {
		y := l.y
		for j := range 4 {
			k := first + j
			r.seen.entry(k*rodDims, w[j]*l.c.X)
			r.seen.entry(k*rodDims+1, w[j]*l.c.Y)
			r.seen.entry(k*rodDims+2, w[j]*l.c.Z)
			f := w[j] * s.along
			y -= f * l.c.Dot(r.axis[k])
			r.seen.entry(k*rodDims+3, f*l.c.Dot(r.e1[k]))
			r.seen.entry(k*rodDims+4, f*l.c.Dot(r.e2[k]))
		}
		r.seen.end(y, 1/l.v)
	}
}

// evidence returns the log marginal likelihood of the sights at the present
// course, up to a constant of the grid: Laplace's approximation (MacKay 2003,
// Information Theory, §27). The course must be the solution for them.
func (r *rod) evidence(sights []rodSight, hand, turn rough) float64 {
	loss, prior, weights := 0.0, 0.0, 0.0
	for i := range sights {
		s := &sights[i]
		loss += 0.5 * s.w * s.chi2(r.at(s.t, s.along))
	}
	prior += square(r.blowMisfit())
	for _, w := range r.impactRows() {
		prior += w.now * w.now / (tipKeptSD * tipKeptSD)
	}
	s1, s2 := r.roll()
	for i := 0; i+3 < len(r.g.t); i++ {
		w, weight := r.g.jerk(i), r.g.jerkWeight(i, hand)
		j := combine(r.grip[i:i+4], w)
		prior += weight * j.Dot(j)
		weights += 3 * math.Log(weight)
		weight = r.g.jerkWeight(i, turn)
		a := w[0]*s1[i] + w[1]*s1[i+1] + w[2]*s1[i+2] + w[3]*s1[i+3]
		b := w[0]*s2[i] + w[1]*s2[i+1] + w[2]*s2[i+2] + w[3]*s2[i+3]
		prior += weight * (a*a + b*b)
		weights += 2 * math.Log(weight)
	}
	return 0.5*(weights-r.fac.logDet()) - loss - 0.5*prior
}

// onto returns a rod with the same course on the nodes of another grid.
func (r *rod) onto(g *grid) *rod {
	grip, axis := make([]geom.Vec3, len(g.t)), make([]geom.Vec3, len(g.t))
	for i, t := range g.t {
		grip[i], axis[i] = r.at(t, 0), r.axisAt(t)
	}
	q := newRod(g, grip, axis)
	q.blow, q.struck = r.blow, r.struck
	return q
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

// draw writes one draw from the posterior into grip and axis, as path.draw does.
func (r *rod) draw(rng *dice, grip, axis []geom.Vec3, scratch []float64) {
	r.linkSights()
	z := scratch[:len(r.axis)*rodDims]
	clear(z)
	r.prior.shakeFlat(z, rng)
	last := make([]geom.Vec3, r.lasts)
	k := 0
	for i := range r.sights {
		l := &r.links[i]
		v := l.next(&r.sights[i].sight, &last[l.strand], rng)
		e := [3]float64{v.X, v.Y, v.Z}
		for d := range r.sights[i].dim() {
			r.seen.push(z, k, e[d])
			k++
		}
	}
	r.fac.solve(z)
	for k := range r.axis {
		d := z[k*rodDims:]
		grip[k] = r.grip[k].Add(geom.Vec3{X: d[0], Y: d[1], Z: d[2]})
		axis[k] = turned(r.axis[k], r.e1[k], r.e2[k], d[3], d[4])
	}
}

func (r *rod) linkSights() {
	if len(r.links) == len(r.sights) {
		return
	}
	var l linker
	for i := range r.sights {
		r.links = append(r.links, l.link(&r.sights[i].sight, r.sights[i].along))
	}
	r.lasts = len(l.last)
}
