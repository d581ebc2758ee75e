package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// A hand that holds a racket is rigid with it: the wrist's joint centre keeps
// its place in the racket's own frame. Where that holds in the data, each sight
// of the wrist is one more sight of the racket.

// handSpan is how far a wrist that holds the handle may be from the grip
// centre, metres: a hand's length, 0.108 of a tall stature (Drillis & Contini
// 1966, via Winter; from memory).
const handSpan = 0.25

// A wrist is held against the racket from heldBefore impact to heldAfter it, seconds; the
// racket's frame is followed over heldMargin more.
const (
	heldBefore = 0.35
	heldAfter  = 0.25
	heldMargin = 0.10
)

// wristSights returns the sights of the wrists as sights of points on the axis:
// their place less the part across it. Only for places in space, with both
// edges of the racket seen, which give its frame.
func (m *scene) wristSights(r *rod) (out []rodSight) {
	across := m.faceAxis(r)
	if across == nil {
		return nil
	}
	for _, p := range [2]body.Point{body.RightWrist, body.LeftWrist} {
		out = append(out, m.heldWrist(r, across, p)...)
	}
	return out
}

// faceAxis returns the direction from the left to the right edge, across the axis, about impact.
func (m *scene) faceAxis(r *rod) func(t float64) geom.Vec3 {
	if m.rig != nil {
		return nil
	}
	at := r.g.t[r.g.brk]
	lo, hi := at-heldBefore-heldMargin, at+heldAfter+heldMargin
	left, right := within(m.sights[body.RacketLeft], lo, hi), within(m.sights[body.RacketRight], lo, hi)
	s := make([]sight, 0, min(len(left), len(right)))
	together(left, right, func(l, r *sight) {
		x := *l
		x.p = r.p.Sub(l.p)
		x.sd *= math.Sqrt2
		s = append(s, x)
	})
	if len(s) < 20 {
		return nil
	}
	p := m.room.path()
	if !p.smooth(m.g, s, m.rough[groupRacket], 2, nil) {
		return nil
	}
	return func(t float64) geom.Vec3 {
		u, e := r.axisAt(t), p.at(t)
		return e.Sub(u.Scale(e.Dot(u))).Unit()
	}
}

// heldWrist returns the sights of one wrist if it holds the racket: its place in
// the racket's frame is then constant to within its noise, and what more it
// wanders widens it.
func (m *scene) heldWrist(r *rod, across func(t float64) geom.Vec3, p body.Point) (out []rodSight) {
	var a, b, c []float64
	at := r.g.t[r.g.brk]
	near := within(m.sights[p], at-heldBefore, at+heldAfter)
	for i := range near {
		u, e := r.axisAt(near[i].t), across(near[i].t)
		d := near[i].p.Sub(r.at(near[i].t, 0))
		a, b, c = append(a, d.Dot(u)), append(b, d.Dot(e)), append(c, d.Dot(u.Cross(e)))
	}
	if len(a) < 12 {
		return nil
	}
	mid := geom.Vec3{X: signal.Median(a), Y: signal.Median(b), Z: signal.Median(c)}
	spread := math.Sqrt((square(signal.MAD(a)) + square(signal.MAD(b)) + square(signal.MAD(c))) / 3)
	if mid.Norm() > handSpan || spread > 0.04 {
		return nil
	}
	for i := range near {
		s := near[i]
		u, e := r.axisAt(s.t), across(s.t)
		s.p = s.p.Sub(e.Scale(mid.Y)).Sub(u.Cross(e).Scale(mid.Z))
		s.sd = math.Max(s.sd, spread)
		out = append(out, rodSight{s, mid.X})
	}
	return out
}
