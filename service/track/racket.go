package track

import (
	"math"
	"slices"

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
