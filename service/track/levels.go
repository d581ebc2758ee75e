package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// fitRoughness fits each group's motion to this swing by its evidence: the
// level first, with the weights that the sights have under the usual motion, then the
// shape, with those that they have at that level. Where a stream is a point's own sights,
// its path goes on as the point's.
func (m *scene) fitRoughness() {
	var prior strip
	for g := range groupRacket {
		own := m.ledgers(g, &prior)
		if len(own.of) == 0 {
			continue
		}
		braked := g == groupTrunk && m.method != "image_plane"
		if braked {
			m.rough[g] = roughOf[g] // a second fit starts where the first did
			m.rough[g].width = trunkWidth
		}
		own.weigh(m.rough[g])
		m.rough[g].level = own.fitLevel(m.rough[g])
		own.weigh(m.rough[g])
		var support float64 // of the motion as it is now
		if g == groupElbow || g == groupWrist {
			support = m.fitJumps(m.rough[g], own)
		} else {
			m.rough[g].jump, support = own.fitJump(m.rough[g], bodyShares)
		}
		m.rough[g] = own.fitFloor(m.rough[g], support)
		if braked {
			m.rough[g] = m.rough[g].freedNearImpact()
		}
		if m.rig == nil {
			for _, l := range own.of {
				m.trails[l.of] = l.p
			}
		}
	}
}

// How the trunk's turn is followed through impact, where a turn is read: not where one image
// alone is had, whose distances err together over the whole turn and are followed as they
// were.
const (
	// trunkWidth is the width of its bell, s. The evidence is higher than with the 0.25 s of
	// the whole turn by 6 to 24 (median in points in space, natural logarithm) on bodies of
	// recorded players and on all three simulators' alike.
	trunkWidth = 0.15

	// trunkFreed is by how much the trunk may jerk more about impact than the evidence has
	// it. A turn is no white jerk: it speeds up, has its peak 20 to 100 ms before impact and
	// is braked through it. The level that explains the whole forward swing best smooths over
	// that brake: turn.shoulders.contact came out too large by .2 to .8 sd in all three
	// simulators and on recorded bodies. With eight times the level that halves, two
	// cameras' error falls by a third, and the stated sd grows by an eighth. To smooth less
	// than is likeliest where a figure is read is common practice for intervals that hold
	// (undersmoothing; Hall 1992, Ann Stat 20:675; from memory).
	trunkFreed = 8.0
)

// freedNearImpact returns the motion with trunkFreed times the level at the top of its bell,
// and away from impact as it was.
func (r rough) freedNearImpact() rough {
	r.level *= trunkFreed
	r.floor /= trunkFreed
	return r
}

// fitJumps fits what impact does to each point of a group by itself: it jolts the
// arm that swings the racket and leaves the other one alone. It returns the support of r.
func (m *scene) fitJumps(r rough, own ledgers) (usual float64) {
	for i := 0; i < len(own.of); {
		k := i
		for k < len(own.of) && own.of[k].of == own.of[i].of {
			k++
		}
		of := ledgers{own.of[i:k], own.prior}
		m.jumps[own.of[i].of], _ = of.fitJump(r, jumpShares[:])
		i = k
	}
	return own.support(r)
}

// roughness is how a point moves.
func (m *scene) roughness(p body.Point) rough {
	r := m.rough[groupOf[p]]
	if m.jumps[p] > 0 {
		r.jump = m.jumps[p]
	}
	return r
}

// ledgers are streams whose motion is fitted together.
type ledgers struct {
	of    []*ledger
	prior *strip // room
}

// ledger is what a stream's sights say of its path while their weights rest:
// what its path has booked.
type ledger struct {
	stream
	of body.Point
	p  *path
}

// mostStreams is how many streams of a group are looked at.
const mostStreams = 4

func (m *scene) ledgers(g group, prior *strip) ledgers {
	own := ledgers{prior: prior}
	for p := range body.Point(body.NumBody) {
		if groupOf[p] != g || !follows(p) || len(own.of) >= mostStreams {
			continue
		}
		for _, s := range m.streams(p) {
			if len(s.sights) > 20 {
				l := &ledger{stream: s, of: p, p: m.room.path()}
				l.p.lay(m.g, s.sights)
				own.of = append(own.of, l)
			}
		}
	}
	return own
}

// weigh gives the sights the weights that they have under a motion, in one pass.
func (own ledgers) weigh(r rough) {
	for _, l := range own.of {
		if l.p.settle(r.scaled(l.scale), 0) {
			l.p.reweigh()
		}
	}
}

// support is the evidence of streams for a motion, up to a constant of the streams.
func (own ledgers) support(r rough) (v float64) {
	g := own.of[0].p.g
	*own.prior = own.prior.blank(len(g.t))
	bell := g.bell(r.width)
	var weights product
	for i := range g.inv {
		w, weight := g.jerk(i), g.jerkWeight(i, &r, bell)
		own.prior.addKnot(i, &w, weight)
		weights.times(weight)
	}
	logs := weights.log()
	for _, l := range own.of {
		v += 1.5*logs + l.evidence(*own.prior)
	}
	return v
}

// evidence is the log marginal likelihood of the sights under Gaussian noise as they are
// weighed, up to Σ log of the prior's weights and a constant: with the prior's
// information P (of one axis, for a stream in metres) and A = P + HᵀWH it is
// ½·(Σ over axes of (HᵀWy)ᵀA⁻¹(HᵀWy) − 3·log det A). A is factored as strip.factor
// does, row by row, and nothing of it is kept.
func (l *ledger) evidence(prior strip) float64 {
	unit := 1 / (l.scale * l.scale)
	var det product
	sum := 0.0
	var a1, a2, a3, b2, b3, c3 float64 // as in strip.factor
	var y1, y2, y3 geom.Vec3           // L⁻¹·pull one to three rows above
	info, prior := l.p.info[:len(l.p.says)], prior[:len(l.p.says)]
	for i, x := range l.p.says {
		r, p := &info[i], &prior[i]
		v0, v1, v2 := r[0]+unit*p[0], r[1]+unit*p[1], r[2]+unit*p[2]
		v1 -= v0 * b2
		v2 -= v0*a1 + v1*a2
		l0, l1, l2 := v0*c3, v1*b3, v2*a3
		d := r[3] + unit*p[3] - v0*l0 - v1*l1 - v2*l2
		if !(d > 0) {
			return math.Inf(-1)
		}
		inv := 1 / d
		y := geom.Vec3{
			X: x.X - l0*y3.X - l1*y2.X - l2*y1.X,
			Y: x.Y - l0*y3.Y - l1*y2.Y - l2*y1.Y,
			Z: x.Z - l0*y3.Z - l1*y2.Z - l2*y1.Z,
		}
		sum += inv * (y.X*y.X + y.Y*y.Y + y.Z*y.Z)
		det.times(d)
		c3, b2, b3 = b3, a2, a3
		a1, a2, a3 = l1, l2, inv
		y3, y2, y1 = y2, y1, y
	}
	return 0.5 * (sum - 3*det.log())
}

// jumpShares are how much a velocity may jump at impact, as shares of what is usual
// for the kind of point; bodyShares the same of trunk, head and legs, whose usual jump is
// already more than the blow can hand on to them (roughOf): a turn that is fastest about
// impact would else be told as one that breaks there, its rate at contact 30 °/s high.
var jumpShares, bodyShares = [...]float64{1, 0.2, 0.05, 4}, jumpShares[:3]

// fitJump chooses, by the evidence, how much the velocity may jump at impact. A
// motion that shows no break is then not given one, which would let its speed
// overshoot there; one that is jolted is not smoothed across the jolt.
func (own ledgers) fitJump(r rough, shares []float64) (jump, top float64) {
	usual := r.jump
	top = math.Inf(-1)
	for _, share := range shares {
		r.jump = usual * share
		if v := own.support(r); v > top {
			jump, top = r.jump, v
		}
	}
	return jump, top
}

// floors are how rough a motion may be far from impact, as shares of its level, rising.
var floors = [...]float64{0.02, 0.1, 0.4, 1}

// fitFloor chooses, by the evidence, how rough a group's motion is far from impact:
// feet that land hard long before impact are not smoothed over. From the usual floor, whose
// support is top, it goes up or down as long as the evidence rises.
func (own ledgers) fitFloor(r rough, top float64) rough {
	usual := r
	try := func(floor float64) bool {
		q := usual
		q.floor = floor
		v := own.support(q)
		if !(v > top) {
			return false
		}
		r, top = q, v
		return true
	}
	up := 0
	for up < len(floors) && floors[up] <= usual.floor {
		up++
	}
	down := up - 1
	if down >= 0 && floors[down] == usual.floor {
		down--
	}
	if up < len(floors) && try(floors[up]) {
		for up++; up < len(floors) && try(floors[up]); up++ {
		}
		return r
	}
	for ; down >= 0 && try(floors[down]); down-- {
	}
	return r
}

// fitLevel seeks the level on its logarithm, within a factor of 300 of where the group
// starts, under a prior of a factor of three: where noise hides the fast part of a
// motion, the evidence alone would take it for absent.
func (own ledgers) fitLevel(r rough) float64 {
	start := math.Log(r.level)
	score := func(x float64) float64 {
		r.level = math.Exp(x)
		d := (x - start) / levelSD
		return own.support(r) - 0.5*d*d
	}
	return math.Exp(vertexMax(score, start, 1.4, 5.7))
}

// levelSD is the sd of the logarithm of a level among players and strokes.
const levelSD = 1.1

// vertexMax seeks the maximum of a smooth f with one peak, from x by steps of h,
// not further than reach: it walks uphill until the peak is bracketed, looks at the vertex of
// the parabola through the three points about it, and answers the vertex of the parabola through
// the best three then.
func vertexMax(f func(float64) float64, x, h, reach float64) float64 {
	at := [3]float64{x - h, x, x + h}
	v := [3]float64{f(at[0]), f(at[1]), f(at[2])}
	for v[0] > v[1] && x-at[0] < reach {
		at, v = [3]float64{at[0] - h, at[0], at[1]}, [3]float64{f(at[0] - h), v[0], v[1]}
	}
	for v[2] > v[1] && at[2]-x < reach {
		at, v = [3]float64{at[1], at[2], at[2] + h}, [3]float64{v[1], v[2], f(at[2] + h)}
	}
	if top := parabolaTop(at, v); math.Abs(top-at[1]) > 0.05*h {
		w := f(top)
		switch {
		case top < at[1] && w > v[1]:
			at, v = [3]float64{at[0], top, at[1]}, [3]float64{v[0], w, v[1]}
		case top < at[1]:
			at, v = [3]float64{top, at[1], at[2]}, [3]float64{w, v[1], v[2]}
		case w > v[1]:
			at, v = [3]float64{at[1], top, at[2]}, [3]float64{v[1], w, v[2]}
		default:
			at, v = [3]float64{at[0], at[1], top}, [3]float64{v[0], v[1], w}
		}
	}
	switch {
	case v[0] > v[1] && v[0] > v[2]:
		return at[0]
	case v[2] > v[1]:
		return at[2]
	}
	return parabolaTop(at, v)
}

// parabolaTop is where the parabola through three points peaks; the middle one
// where it has no peak between them.
func parabolaTop(x, v [3]float64) float64 {
	a, b := (v[1]-v[0])/(x[1]-x[0]), (v[2]-v[1])/(x[2]-x[1])
	bend := (b - a) / (x[2] - x[0])
	if !(bend < 0) || math.IsInf(bend, 0) {
		return x[1]
	}
	return clamp((x[0]+x[1])/2-a/(2*bend), x[0], x[2])
}
