package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// One camera sees where the racket's points lie across the view; how far away
// the handle is follows from the hands that hold it, and the racket's tilt from
// its foreshortening.

// handsApart is how far the wrists may be from each other while both hold the
// handle, metres: two fists one above the other are 0.10–0.15 m, with room for
// a pose estimator's error. Common practice, no source.
const handsApart = 0.25

// grips returns the course of the middle of the hands that hold the racket, as
// far as the body tells: a wrist moved on by half a hand, or the middle of two.
// nil without a hand near the racket.
func (m *scene) grips() func(t float64) geom.Vec3 {
	hand, far := m.holdingHand()
	if m.paths[hand] == nil {
		return nil
	}
	one := m.fistOf(hand)
	other := hand.Twin()
	if m.paths[other] == nil || far > handsApart {
		return one
	}
	two := m.fistOf(other)
	return func(t float64) geom.Vec3 { return one(t).Lerp(two(t), 0.5) }
}

// holdingHand returns the wrist that is nearer to the butt (or throat) in the
// images, and how far the other one was from it around impact, metres.
func (m *scene) holdingHand() (body.Point, float64) {
	l, r := m.paths[body.LeftWrist], m.paths[body.RightWrist]
	if m.holds.g != m.g || m.holds.l != l || m.holds.r != r {
		m.holds = holds{g: m.g, l: l, r: r}
		m.holds.hand, m.holds.far = m.findHoldingHand()
	}
	return m.holds.hand, m.holds.far
}

// holds is what holdingHand has found on a grid for the wrists' paths.
type holds struct {
	g    *grid
	l, r *path
	hand body.Point
	far  float64
}

func (m *scene) findHoldingHand() (body.Point, float64) {
	end := m.sights[body.RacketButt]
	if len(end) < 8 {
		end = m.sights[body.RacketThroat]
	}
	var gap [2][]float64
	var eye *camera.Pose
	scale := 0.0
	for k, p := range [2]body.Point{body.RightWrist, body.LeftWrist} {
		if m.paths[p] == nil {
			continue
		}
		for i := range end {
			s := &end[i]
			if s.kind != image {
				continue
			}
			if s.eye != eye {
				eye, scale = s.eye, m.scaleOf(s.eye)
			}
			if x, y, ok := s.eye.Project(m.paths[p].at(s.t)); ok {
				gap[k] = append(gap[k], math.Hypot(s.p.X-x, s.p.Y-y)/scale)
			}
		}
	}
	hand := body.RightWrist
	if l := signal.Median(gap[1]); len(gap[0]) == 0 || l < signal.Median(gap[0]) {
		hand = body.LeftWrist
	}
	return hand, m.wristsApart()
}

// wristsApart is the median distance of the wrists in the last 0.12 s before impact.
func (m *scene) wristsApart() float64 {
	l, r := m.paths[body.LeftWrist], m.paths[body.RightWrist]
	if l == nil || r == nil {
		return math.Inf(1)
	}
	var d []float64
	at := m.g.t[m.g.brk]
	for t := at - 0.12; t <= at; t += 0.01 {
		d = append(d, l.at(t).Sub(r.at(t)).Norm())
	}
	return signal.Median(d)
}

// fistOf returns the course of the middle of a closed hand.
func (m *scene) fistOf(wrist body.Point) func(t float64) geom.Vec3 {
	elbow := body.RightElbow
	if wrist == body.LeftWrist {
		elbow = body.LeftElbow
	}
	w, e := m.paths[wrist], m.paths[elbow]
	stature := m.w.Player.Stature
	if stature == 0 {
		stature = 1.7
	}
	return func(t float64) geom.Vec3 {
		p := w.at(t)
		if e == nil {
			return p
		}
		return p.Add(p.Sub(e.at(t)).Unit().Scale(handLength * stature))
	}
}

func square(x float64) float64 { return x * x }

// elbowOf returns the course of a wrist's elbow; nil when it was not seen.
func (m *scene) elbowOf(wrist body.Point) func(t float64) geom.Vec3 {
	elbow := body.RightElbow
	if wrist == body.LeftWrist {
		elbow = body.LeftElbow
	}
	if m.paths[elbow] == nil {
		return nil
	}
	return m.paths[elbow].at
}

// startOneView returns courses of the racket to set out from, seen by one camera, with
// their shares of the posterior, the likeliest first.
func (m *scene) startOneView(sights []rodSight) []rival {
	h := m.habits()
	if h == nil {
		return nil
	}
	cs := m.choices(h.hand)
	if len(cs) < 8 {
		return nil
	}
	cost := h.costs(cs)
	pick, _ := bestSigns(cs, func(i, k int) float64 { return cost[i][k] })
	var grip []geom.Vec3
	for _, t := range m.g.t {
		grip = append(grip, h.hand(t))
	}
	out := m.compareStarts(h, cs, pick, sights)
	c := m.newTilts(cs, cost, sights, h.hand)
	for i := range out {
		out[i].tilts = c
		axis := axisOf(m.g, cs, c.picks(out[i].rod))
		if axis == nil {
			return nil
		}
		out[i].rod = m.spread(out[i].rod, grip, axis)
	}
	return out
}

// axisOf smooths chosen directions on a grid.
func axisOf(g *grid, cs []axisChoice, pick []int) (axis []geom.Vec3) {
	s := make([]sight, 0, len(cs))
	for i := range cs {
		s = append(s, sight{kind: place, t: cs[i].t, p: cs[i].u[pick[i]], sd: 0.08, w: 1})
	}
	u, ok := smoothPoint(g, s, rough{level: turnOf.level, width: 0.15, floor: 0.02, jump: turnOf.jump}, 3, nil)
	if !ok {
		return nil
	}
	for _, v := range u.mean {
		axis = append(axis, v.Unit())
	}
	return axis
}

// flips lists the choice of signs itself and those that differ from it over a
// stretch that ends or starts where the rod lies most nearly across the view,
// where a turn toward the camera cannot be told from one away: to the next such
// place, or for good. Only places near impact are tried.
func (m *scene) flips(cs []axisChoice, pick []int) (out [][]int) {
	at := m.g.t[m.g.brk]
	out = append(out, pick, flipped(pick, 0, len(cs)))
	turns := append(append([]int{0}, dips(cs)...), len(cs))
	for k := 1; k+1 < len(turns); k++ {
		if t := cs[turns[k]].t; t < at-nearBefore || t > at+nearAfter {
			continue
		}
		for _, s := range [][2]int{{turns[k-1], turns[k]}, {0, turns[k]}, {turns[k], turns[k+1]}, {turns[k], len(cs)}} {
			if p := flipped(pick, s[0], s[1]); !slices.ContainsFunc(out, func(q []int) bool { return slices.Equal(p, q) }) {
				out = append(out, p)
			}
		}
	}
	return out[:min(len(out), 14)]
}

func flipped(pick []int, from, to int) []int {
	p := slices.Clone(pick)
	for k := from; k < to; k++ {
		p[k] = 1 - p[k]
	}
	return p
}

// gripDepth is how far, as an sd, the grip centre lies from the fists' middle
// along the line of sight, metres: half a hand's width, and what the wrists'
// own depth errs. It lasts through a swing.
var gripDepth = hiss{white: 0.01, slow: 0.045, memory: 0.25}

// gripAnchors ties the grip to the hands' depth, for a racket seen by one camera.
func (m *scene) gripAnchors() (out []rodSight) {
	if !m.oneEye() {
		return nil
	}
	hand := m.grips()
	if hand == nil {
		return nil
	}
	wrist, _ := m.holdingHand()
	f := m.rig.Eyes[0].Forward()
	last := math.Inf(-1)
	for i := range m.w.Frames {
		t := m.time(i)
		if t <= last {
			continue
		}
		last = t
		s := sight{kind: reach, t: t, dir: f, p: geom.Vec3{X: f.Dot(hand(t))}, sd: gripDepth.total(), h: &gripDepth, w: 1}
		if s.errs = m.liftErrs(wrist, t); s.errs != nil {
			s.sd = liftFollow
		}
		out = append(out, rodSight{s, 0})
	}
	return out
}
