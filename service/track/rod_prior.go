package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// believe adds to b the prior on the grip's motion and on the development of the axis,
// white jerk, and to x its pull. The unknowns of the grip are places, those of the axis
// increments.
func (r *rod) believe(b *band, x []float64) {
	s1, s2 := r.s1, r.s2
	for i := range r.g.inv {
		w, grip, axis := r.g.jerk(i), r.handJerk[i], r.turnJerk[i]
		y1 := w[0]*s1[i] + w[1]*s1[i+1] + w[2]*s1[i+2] + w[3]*s1[i+3]
		y2 := w[0]*s2[i] + w[1]*s2[i+1] + w[2]*s2[i+2] + w[3]*s2[i+3]
		for p := range 4 {
			row := rodDims * (i + p)
			if x != nil {
				x[row+3] -= axis * w[p] * y1
				x[row+4] -= axis * w[p] * y2
			}
			for q := range p + 1 {
				d := b.blocks.at(i+p, i+q)
				f := w[p] * w[q]
				fg, fa := f*grip, f*axis
				d[0][0] += fg
				d[1][1] += fg
				d[2][2] += fg
				d[3][3] += fa
				d[4][4] += fa
			}
		}
	}
}

// followBursts raises the density of jerk where the present course jerks more than
// the motion allows for.
func (r *rod) followBursts(hand, turn rough) {
	r.handBursts = r.g.bursts(r.handBursts, r.grip, hand, 3)
	plane := make([]geom.Vec3, len(r.s1))
	for i := range plane {
		plane[i] = geom.Vec3{X: r.s1[i], Y: r.s2[i]}
	}
	r.turnBursts = r.g.bursts(r.turnBursts, plane, turn, 2)
}

// How fast the tip's speed changes just before impact, as a share of it, 1/s. Rackets
// reach their fastest at impact or within a frame or two before it (literature.md §3, order
// constraints): a speed that peaked 20 ms ago on a rise of 0.1 s loses 9 a second, one that
// peaks at impact loses none. One that impact cuts short still rises: a racket that trails a
// loose wrist, recorded arms driving it, gains 3 to 14 a second. Between the two stands a speed
// that has its top at impact. It is the tip's speed that is
// believed in and not the turn's: where a hand is braked by the racket that overtakes it, the
// turn gains what the hand loses. Of the hand's own speed, which falls early or late, little
// more is known than the order.
const (
	tipGain   = 0.0
	tipShare  = 7.0 // sd
	handFall  = -5.0
	handShare = 15.0 // sd
	// tipLeast is the least sd of that change, m/s²: speed changes by force and torque, not by
	// its own share, and a volley's racket that hardly moves yet may be made to. Gravity
	// turns a racket of 0.07 kg·m and 0.032 kg·m² about the grip by 21 rad/s², a hand that
	// gains or loses 45 m/s² (volleys' and drives' do) by 100 more: 120 rad/s² at 0.585 m.
	tipLeast = 70.0
)

// peakPrior holds the change of the tip's speed, and of the hand's, just before impact to
// tipGain and handFall, within tipShare, or tipLeast, and handShare.
func (r *rod) peakPrior() {
	b := r.g.brk
	if b < 3 {
		return
	}
	n := r.g.t[b-3 : b+1]
	v, a := r.g.slope(b-3, n[3]), curve(n, n[3])
	hand := combine(r.grip[b-3:b+1], v)
	if l := hand.Norm(); l > 1 { // m/s
		d := hand.Scale(1 / l)
		for j := range 4 {
			r.prior.entry((b-3+j)*rodDims, a[j]*d.X)
			r.prior.entry((b-3+j)*rodDims+1, a[j]*d.Y)
			r.prior.entry((b-3+j)*rodDims+2, a[j]*d.Z)
		}
		r.prior.end(handFall*l, 1/(handShare*l*handShare*l))
	}
	tip := hand.Add(combine(r.axis[b-3:b+1], v).Scale(r.tip))
	l := tip.Norm()
	if l < 2 { // m/s: a racket that hardly moves has no peak
		return
	}
	sd := math.Max(tipShare*l, tipLeast)
	r.along(r.tip, a, tip.Scale(1/l), tipGain*l, 1/(sd*sd))
}

// along adds the belief that a derivative of the point that lies at metres from the grip
// centre, by weights w of the four nodes up to impact, is y along the unit vector d, with
// information info.
func (r *rod) along(at float64, w [4]float64, d geom.Vec3, y, info float64) {
	for j := range w {
		n := r.g.brk - 3 + j
		r.prior.entry(n*rodDims, w[j]*d.X)
		r.prior.entry(n*rodDims+1, w[j]*d.Y)
		r.prior.entry(n*rodDims+2, w[j]*d.Z)
		f := w[j] * at
		r.prior.entry(n*rodDims+3, f*d.Dot(r.e1[n]))
		r.prior.entry(n*rodDims+4, f*d.Dot(r.e2[n]))
		y -= f * d.Dot(r.axis[n])
	}
	r.prior.end(y, info)
}

// Impact leaves about three quarters of the racket's speed at the tip: 20–30 % are lost
// there (common practice, no source; the struck point loses more, 46–79 % by effective
// mass, and the tip less: literature.md 4.2).
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
	r.along(r.blow.along, r.g.slope(b-3, r.g.t[b]), r.blow.dir, r.blow.speed, 1/(r.blow.sd*r.blow.sd))
}

// blowMisfit is how far, in sds, the present course is from what the ball says.
func (r *rod) blowMisfit() float64 {
	b := r.g.brk
	if !r.blow.on || b < 3 {
		return 0
	}
	w := r.g.slope(b-3, r.g.t[b])
	v := combine(r.grip[b-3:b+1], w).Add(combine(r.axis[b-3:b+1], w).Scale(r.blow.along))
	return (v.Dot(r.blow.dir) - r.blow.speed) / r.blow.sd
}
