package track

import (
	"cmp"
	"math"
	"slices"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// usualLength is a racket's, metres: 27 in.
const usualLength = 0.685

// measureRacket takes the racket's length and the throat's place from the
// sights, where the setup does not say.
func (m *scene) measureRacket() {
	butt := m.places(body.RacketButt)
	full, part := distances(m.places(body.RacketTip), butt), distances(m.places(body.RacketThroat), butt)
	if m.length == 0 {
		m.length = usualLength
		if l := signal.Median(full); len(full) > 20 && l > 0.4 && l < 0.8 {
			m.length = l
		}
	}
	m.throat = 0.5 * m.length
	if l := signal.Median(part); len(part) > 10 && l > 0.3*m.length && l < 0.7*m.length {
		m.throat = l
	}
}

// distances lists how far apart two points were wherever both were seen at one instant.
func distances(a, b []sight) []float64 {
	out := make([]float64, 0, min(len(a), len(b)))
	together(a, b, func(x, y *sight) { out = append(out, x.p.Sub(y.p).Norm()) })
	return out
}

// together calls do for the sights of two points, in time order, that are of one instant
// and one camera.
func together(a, b []sight, do func(x, y *sight)) {
	j := 0
	for i := range a {
		x := &a[i]
		for j < len(b) && b[j].t < x.t {
			j++
		}
		for k := j; k < len(b) && b[k].t == x.t; k++ {
			if b[k].eye == x.eye {
				do(x, &b[k])
			}
		}
	}
}

// gripFromButt is where the grip centre lies, metres from the butt toward the
// tip: by definition (measures.md, "grip centre").
const gripFromButt = 0.10

// along returns how far toward the tip a racket point lies from the grip centre.
func (m *scene) along(p body.Point) float64 {
	switch p {
	case body.RacketTip:
		return m.length - gripFromButt
	case body.RacketThroat:
		return m.throat - gripFromButt
	case body.RacketButt:
		return -gripFromButt
	}
	return (m.length+m.throat)/2 - gripFromButt
}

// racketSights lists the sights of points on the axis in time order; the two edges
// count where both are seen, as their midpoint.
func (m *scene) racketSights() []rodSight {
	n := 0
	for p := body.RacketTip; p <= body.RacketRight; p++ {
		n += len(m.sights[p])
	}
	out := m.room.rodSights(n + n/2 + 64) // with what hands and wrists add
	points := [...]body.Point{body.RacketTip, body.RacketThroat, body.RacketButt}
	var left [len(points)][]sight
	var along [len(points)]float64
	for k, p := range points {
		left[k], along[k] = m.sights[p], m.along(p)
	}
	for {
		next := -1
		for k, s := range left {
			if len(s) > 0 && (next < 0 || s[0].t < left[next][0].t) {
				next = k
			}
		}
		if next < 0 {
			break
		}
		out = append(out, rodSight{left[next][0], along[next]})
		left[next] = left[next][1:]
	}
	edge := m.along(body.RacketLeft)
	together(m.sights[body.RacketLeft], m.sights[body.RacketRight], func(l, r *sight) {
		s := *l
		s.p = l.p.Lerp(r.p, 0.5)
		s.sd /= math.Sqrt2
		out = append(out, rodSight{s, edge})
	})
	return m.inTime(out)
}

// inTime puts sights of a rod into time order.
func inTime(s []rodSight) []rodSight {
	mergeRuns(s, func(x *rodSight) float64 { return x.t })
	return s
}

// inTime is inTime in the scene's room.
func (m *scene) inTime(s []rodSight) []rodSight {
	if m.room == nil {
		return inTime(s)
	}
	m.room.merging = mergeRunsIn(m.room.merging, s, func(x *rodSight) float64 { return x.t })
	return s
}

// rival is another course of the racket that the data support nearly as well.
type rival struct {
	rod   *rod
	share float64 // of the posterior, in (0, 1)
	tilts *tilts  // says which signs are open away from impact; nil: none are
	open  *openSigns
}

// followRacket solves the rod, from a start by the tip's and butt's own paths or
// from several by one image.
func (m *scene) followRacket(fit bool) {
	m.racket, m.rivals, m.open = nil, nil, nil
	sights := m.inTime(append(m.racketSights(), m.gripAnchors()...))
	rods := m.startRods(sights)
	if len(rods) == 0 {
		return
	}
	r := rods[0].rod
	hand, turn := handOf, turnOf
	sights = m.anchored(sights, r)
	passes := 3
	if !m.oneEye() {
		passes = 1 // tip's and butt's own paths are near, and more follow
	}
	if !settleRod(r, sights, hand, turn, passes) {
		return
	}
	if wrists := m.wristSights(r); len(wrists) > 0 {
		sights = m.inTime(append(sights, wrists...))
	}
	if fit {
		hand.level, turn.level = fitRod(r, sights, hand, turn)
		m.handRough, m.turnRough = hand, turn
	}
	m.settleRacket(rods, sights)
}

// settleRacket solves the likeliest course of the racket and its rivals from near them.
func (m *scene) settleRacket(rods []rival, sights []rodSight) {
	r, hand, turn := rods[0].rod, m.handRough, m.turnRough
	if !m.settleBursts(r, sights, hand, turn) {
		return
	}
	m.racket, m.open = r, rods[0].tilts.open(r)
	for _, o := range rods[1:] {
		own := m.anchored(append(m.room.rodSights(len(sights)), sights...), o.rod)
		if settleRod(o.rod, own, hand, turn, 4) {
			o.open = o.tilts.open(o.rod)
			m.rivals = append(m.rivals, o)
		}
	}
}

// carryRacket solves the racket of a scene whose impact was moved by milliseconds from the
// courses that it had: which way it tilts is no other question then.
func (m *scene) carryRacket(was *scene) {
	m.racket, m.rivals, m.open = nil, nil, nil
	if was.racket == nil {
		return
	}
	rods := []rival{{rod: was.racket}}
	if was.open != nil {
		rods[0].tilts = was.open.c
	}
	rods = append(rods, was.rivals...)
	blow := was.racket.blow
	if blow.on {
		blow = m.blow()
	}
	for i := range rods {
		rods[i].rod = rods[i].rod.onto(m.g)
		rods[i].rod.blow = blow
	}
	r := rods[0].rod
	sights := m.anchored(m.inTime(append(m.racketSights(), m.gripAnchors()...)), r)
	if wrists := m.wristSights(r); len(wrists) > 0 {
		sights = m.inTime(append(sights, wrists...))
	}
	m.settleRacket(rods, sights)
}

// anchored puts, for one camera, the anchors that a course of the axis gives its grip in
// place of those that the hands alone give.
func (m *scene) anchored(sights []rodSight, r *rod) []rodSight {
	anchors := m.graspAnchors(r.axisAt)
	if len(anchors) == 0 {
		return sights
	}
	seen := sights[:0]
	for _, s := range sights {
		if s.kind != reach {
			seen = append(seen, s)
		}
	}
	return m.inTime(append(seen, anchors...))
}

// startRods returns the rods to set out from, with their shares of the
// posterior, the likeliest first.
func (m *scene) startRods(sights []rodSight) []rival {
	if !m.oneEye() {
		grip, axis := m.startRacket()
		if grip == nil {
			return nil
		}
		r := newRod(m.room, m.g, grip, axis)
		r.tip = m.along(body.RacketTip)
		return []rival{{rod: r, share: 1}}
	}
	return m.startOneView(sights)
}

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

// spread puts a rod that was solved around impact back onto the whole grid: its
// own course within, a start's outside.
func (m *scene) spread(q *rod, grip, start []geom.Vec3) *rod {
	axis := slices.Clone(start)
	out := slices.Clone(grip)
	for i, t := range m.g.t {
		if t > q.g.t[0] && t < q.g.t[len(q.g.t)-1] {
			axis[i], out[i] = q.axisAt(t), q.at(t, 0)
		}
	}
	o := newRod(m.room, m.g, out, axis)
	o.blow, o.struck, o.tip = q.blow, q.struck, q.tip
	return o
}

// blow is what the ball's flight says of a racket seen by one camera, whose own
// motion along the line of sight shows least.
func (m *scene) blow() blow {
	b, ok := m.ballSeen()
	if !ok {
		return blow{}
	}
	dir, speed, sd, ok := b.blow(m.g.t[m.g.brk])
	return blow{ok, dir, (m.along(body.RacketTip) + m.along(body.RacketThroat)) / 2, speed, sd}
}

// startRacket returns a course to set out from, by the tip's and butt's own paths; nil without one.
func (m *scene) startRacket() (grip, axis []geom.Vec3) {
	tips, butts := m.places(body.RacketTip), m.places(body.RacketButt)
	if len(tips) < 8 || len(butts) < 8 {
		return nil, nil
	}
	tip, butt := m.room.path(), m.room.path()
	if !tip.smooth(m.g, tips, m.rough[groupRacket], 2, nil) || !butt.smooth(m.g, butts, m.rough[groupWrist], 2, nil) {
		return nil, nil
	}
	for i := range m.g.t {
		u := tip.mean[i].Sub(butt.mean[i]).Unit()
		axis = append(axis, u)
		grip = append(grip, butt.mean[i].Add(u.Scale(gripFromButt)))
	}
	m.room.giveBack(tip)
	m.room.giveBack(butt)
	return grip, axis
}

// restTurn is the turn in a step, radians, under which the axis rests: a twentieth
// of what noise does to it.
const restTurn = 5e-4

// settleRod reweighs and improves in turn until the axis rests.
func settleRod(r *rod, sights []rodSight, hand, turn rough, passes int) bool {
	r.sights = nil // another list may have come into the same memory
	r.look(sights)
	for range passes {
		step, ok := r.step(hand, turn, true)
		if !ok {
			return false
		}
		if step < restTurn {
			break
		}
	}
	return true
}

// settleBursts settles a rod and, where it was seen in space, follows the bursts of
// its motion: a hand that takes the racket back in a sweep and stops jerks a hundred
// times more than one that waits. One view's own choices of depth would pass for
// bursts.
func (m *scene) settleBursts(r *rod, sights []rodSight, hand, turn rough) bool {
	if m.oneEye() {
		return settleRod(r, sights, hand, turn, 4)
	}
	r.sights = nil
	r.look(sights)
	for k := range burstSteps {
		if k < 3 {
			r.followBursts(hand, turn)
		}
		step, ok := r.step(hand, turn, true)
		if !ok {
			return false
		}
		if k >= 2 && step < restBursts {
			break
		}
	}
	return true
}

// burstSteps bounds the steps of settleBursts; in the first three the bursts follow. A step
// turns the axis by a third of the one before, so that what is left after one under restBursts,
// radians, is a thousandth: a tenth or less of what noise does to it.
const (
	burstSteps = 6
	restBursts = 6 * restTurn
)

// fitRod fits the levels of the hand's and the axis's motion near impact by
// their evidence, on a small even grid around it.
func fitRod(r *rod, sights []rodSight, hand, turn rough) (handLevel, turnLevel float64) {
	const before, after, step = 27, 17, 0.012
	at := r.g.t[r.g.brk]
	from := sort.Search(len(sights), func(i int) bool { return sights[i].t > at-before*step })
	to := sort.Search(len(sights), func(i int) bool { return sights[i].t >= at+after*step })
	near := slices.Clone(sights[from:to])
	start := r.onto(newUniform(at, step, before, after))
	q := newRod(r.room, start.g, slices.Clone(start.grip), slices.Clone(start.axis))
	q.tip = r.tip
	score := func(h, t rough) float64 {
		if _, ok := q.improve(near, h, t); !ok { // from the last trial's solution, which is near
			q.setOut(start)
			return math.Inf(-1)
		}
		return q.evidence(near)
	}
	fit := func(level float64, f func(level float64) float64) float64 {
		x0 := math.Log(level)
		return math.Exp(vertexMax(func(x float64) float64 {
			d := (x - x0) / math.Ln10
			return f(math.Exp(x)) - 0.5*d*d
		}, x0, 1.4, 4.6))
	}
	turn.level = fit(turn.level, func(v float64) float64 { t := turn; t.level = v; return score(hand, t) })
	hand.level = fit(hand.level, func(v float64) float64 { h := hand; h.level = v; return score(h, turn) })
	return hand.level, turn.level
}

// oneOf picks the racket's course or a rival, by their shares.
func (m *scene) oneOf(rng *dice) (*rod, *openSigns) {
	// Evenly over the members of an ensemble, so that few of them show the shares, too.
	_, x := math.Modf((float64(rng.member) + 0.5) * math.Phi)
	for _, o := range m.rivals {
		if x -= math.Max(o.share, leastDrawn); x < 0 {
			return o.rod, o.open
		}
	}
	return m.racket, m.open
}

func (m *scene) writeRacket(c *Course, rng *dice, at *sampling) {
	grip, axis := m.racket.grip, m.racket.axis
	if rng != nil {
		n := len(grip)
		grip, axis = c.spare(0, n), c.spare(1, n)
		r, open := m.oneOf(rng)
		r.draw(rng, grip, axis, c.flat(rodDims*n))
		if open != nil {
			open.waver(rng, r.g, grip, axis)
		}
	}
	c.HasRacket = true
	read := at.of(m.racket.g)
	c.Grip, c.GripVel = read.read(grip, c.Grip, c.GripVel)
	c.Axis, c.AxisVel = read.read(axis, c.Axis, c.AxisVel)
	for i, u := range c.Axis {
		u = u.Unit()
		c.Axis[i] = u
		c.AxisVel[i] = c.AxisVel[i].Sub(u.Scale(u.Dot(c.AxisVel[i])))
	}
	place := func(along float64, pos, vel []geom.Vec3) (p, v []geom.Vec3) {
		n := len(c.T)
		pos, vel = sized(pos, n), sized(vel, n)
		grip, axis, gripVel, axisVel := c.Grip[:n], c.Axis[:n], c.GripVel[:n], c.AxisVel[:n]
		for i := range pos {
			g, u, v, w := &grip[i], &axis[i], &gripVel[i], &axisVel[i]
			pos[i] = geom.Vec3{X: g.X + u.X*along, Y: g.Y + u.Y*along, Z: g.Z + u.Z*along}
			vel[i] = geom.Vec3{X: v.X + w.X*along, Y: v.Y + w.Y*along, Z: v.Z + w.Z*along}
		}
		return pos, vel
	}
	c.Center, c.CenterVel = place((m.along(body.RacketTip)+m.along(body.RacketThroat))/2, c.Center, c.CenterVel)
	for _, p := range []body.Point{body.RacketTip, body.RacketThroat, body.RacketButt} {
		c.Has[p] = true
		c.Pos[p], c.Vel[p] = place(m.along(p), c.Pos[p], c.Vel[p])
	}
}
