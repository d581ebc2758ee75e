package track

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// evidenceTrust is the power to which the evidence between rival courses of a
// racket is taken: noise that lasts and a motion that is not quite as the prior
// has it make it seem surer than it is. Chosen so that what is then called sure
// is right on made swings as often as it says.
const evidenceTrust = 0.4

// leastShare is the share of the posterior under which a rival is let go: the share of values
// that may lie more than 4 sd off (accuracy.md).
const leastShare = 0.005

// leastDrawn is the least share of the draws that show a rival which is kept. A rival whose
// values lie d off and that a share p of the draws shows makes an sd of d·√p: by its own share
// of a thirtieth it would be 5 sd off whenever it is the truth after all, and further off by a
// smaller one. With a twelfth it lies within 4.
const leastDrawn = 1. / 12

// startRounds bounds the rounds of compareStarts: each tries what differs in one stretch from
// the best of the round before, the mirror image of the whole among them, which fits
// the image as well.
const startRounds = 3

// The grid on which starts are compared: its step, seconds, and its nodes before and after
// impact. Cubics over four nodes follow the racket to a hundredth of a radian.
const (
	startStep   = 0.012
	startBefore = 27
	startAfter  = 15
)

// compareStarts scores the starts, a choice for each frame and what differs from it in a
// stretch, by their evidence around impact, on a small grid, and keeps those that are likely.
func (m *scene) compareStarts(h *habits, cs []axisChoice, pick []int, sights []rodSight) (out []rival) {
	var score []float64
	var tried [][]int
	var early [][]geom.Vec3 // the axes of all starts half-way to their solutions
	g := newUniform(m.g.t[m.g.brk], startStep, startBefore, startAfter)
	near := nearSights(sights, g)
	cs, pick = choicesWithin(cs, pick, g)
	if len(cs) < 4 {
		return nil
	}
	blow := m.blow()
	room := rod{fac: &band{}, x: make([]float64, rodDims*len(g.t))} // for all starts, one after the other
	best := -1
	for range startRounds {
		for _, p := range m.flips(cs, pick) {
			if slices.ContainsFunc(tried, func(q []int) bool { return slices.Equal(p, q) }) {
				continue
			}
			tried = append(tried, p)
			q := m.startRod(cs, p, h.hand, g)
			if q == nil {
				continue
			}
			q.blow = blow
			q.fac, q.x = room.fac, room.x
			if !settleRod(q, near, handOf, turnOf, 2) || slices.ContainsFunc(early, func(o []geom.Vec3) bool { return sameAxis(g, o, q.axis, 0.99) }) {
				continue
			}
			early = append(early, slices.Clone(q.axis))
			if !settleRod(q, near, handOf, turnOf, 2) || slices.ContainsFunc(out, func(o rival) bool { return sameAxis(g, o.rod.axis, q.axis, 0.97) }) {
				continue
			}
			out = append(out, rival{rod: q})
			score = append(score, evidenceTrust*(q.evidence(near)-h.of(q)))
		}
		was := best
		for i := range score {
			if best < 0 || score[i] > score[best] {
				best = i
			}
		}
		if best == was {
			break
		}
		pick = picksOf(cs, out[best].rod, pick)
	}
	total := logSum(score)
	kept := out[:0]
	for i, o := range out {
		if o.share = math.Exp(score[i] - total); o.share >= leastShare {
			kept = append(kept, o)
		}
	}
	slices.SortStableFunc(kept, func(a, b rival) int { return cmp.Compare(b.share, a.share) })
	return kept
}

// choicesWithin returns the choices, and what was picked of them, within a grid.
func choicesWithin(cs []axisChoice, pick []int, g *grid) ([]axisChoice, []int) {
	lo, hi := 0, len(cs)
	for lo < hi && cs[lo].t < g.t[0] {
		lo++
	}
	for hi > lo && cs[hi-1].t > g.t[len(g.t)-1] {
		hi--
	}
	return cs[lo:hi], pick[lo:hi]
}

// startRod is the rod on a grid as a choice for each frame has it; nil where it fails.
func (m *scene) startRod(cs []axisChoice, pick []int, hand func(t float64) geom.Vec3, g *grid) *rod {
	axis := axisOf(g, cs, pick)
	if axis == nil {
		return nil
	}
	grip := make([]geom.Vec3, len(g.t))
	for i, t := range g.t {
		grip[i] = hand(t)
	}
	r := newRod(m.room, g, grip, axis)
	r.tip = m.along(body.RacketTip)
	r.struck = r.tip
	return r
}

// picksOf is the choice nearer to a course in each frame that it covers, pick elsewhere.
func picksOf(cs []axisChoice, r *rod, pick []int) []int {
	out := slices.Clone(pick)
	for i := range cs {
		if t := cs[i].t; t >= r.g.t[0] && t <= r.g.t[len(r.g.t)-1] {
			out[i] = cs[i].nearer(r.axisAt(t))
		}
	}
	return out
}

// sameAxis reports whether two courses of the axis agree around impact, by the least cosine
// of the angle between them.
func sameAxis(g *grid, a, b []geom.Vec3, least float64) bool {
	for i := range a {
		if g.t[i] > g.t[g.brk]-0.2 && a[i].Dot(b[i]) < least {
			return false
		}
	}
	return true
}

// nearSights returns a copy of the sights, which are in time order, within a grid.
func nearSights(s []rodSight, g *grid) []rodSight {
	from := sort.Search(len(s), func(i int) bool { return s[i].t > g.t[0] })
	to := sort.Search(len(s), func(i int) bool { return s[i].t >= g.t[len(g.t)-1] })
	return slices.Clone(s[from:max(from, to)])
}

// of is the cost of a course of the racket by how rackets are swung.
func (h *habits) of(r *rod) (cost float64) {
	const step = 1.0 / 60
	for t := h.at - 0.25; t < h.at+0.03; t += step {
		cost += h.weight(step) * h.cost(t, r.axisAt(t))
	}
	return cost
}
