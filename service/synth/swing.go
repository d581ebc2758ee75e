package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// stroker is a drawn stroke that can be appended to a motion.
type stroker interface {
	apply(m *Motion, d draw, tc float64) (start, end float64)
	tempo() *float64                 // the pace to be solved
	wanted() *float64                // tip speed at contact, m/s
	tune(m *Motion, tc float64) bool // mends the stroke as applied to m; true when there was nothing to mend
	miss()                           // no ball: nothing breaks the motion
	lead() float64                   // s that the stroke begins before contact
	dwell() float64                  // s over which the impact takes its share
	ready() [2]float64               // s after contact, at pace 1, between which the body recovers
	release(tc float64) float64
}

func (v *drive) tempo() *float64            { return &v.pace }
func (v *drive) wanted() *float64           { return &v.speed }
func (v *drive) miss()                      { v.air = true }
func (v *drive) lead() float64              { return v.prep + 0.42*v.pace + v.landing + 0.35 }
func (v *drive) dwell() float64             { return v.lossTime }
func (v *drive) ready() [2]float64          { return [2]float64{v.pace * v.recover[0], v.pace * v.recover[1]} }
func (v *drive) release(float64) float64    { return math.NaN() }
func (v *throw) tempo() *float64            { return &v.pace }
func (v *throw) tune(*Motion, float64) bool { return true }
func (v *throw) wanted() *float64           { return &v.speed }
func (v *throw) miss()                      { v.air = true }
func (v *throw) dwell() float64             { return v.strike.rise }
func (v *throw) ready() [2]float64 {
	return [2]float64{max(0.65, v.pace*v.recover[0]), max(1.25, v.pace*v.recover[1])}
}
func (v *throw) release(tc float64) float64 {
	if v.stroke == body.Serve {
		return tc - v.toss
	}
	return math.NaN()
}

func (v *throw) lead() float64 { return v.early() + 0.8 }

func newStroke(s Spec, d draw) stroker {
	if s.Stroke.OverheadMotion() {
		v := newThrow(s, d)
		return &v
	}
	v := newDrive(s, d)
	return &v
}

// NewSwing makes one stroke with its wait before and its recovery after.
func NewSwing(s Spec) *Motion {
	s = s.filled()
	return NewPractice(Practice{Spec: s, Strokes: []body.Stroke{s.Stroke}, Plain: true})
}

// solve finds the pace at which the tip has the wanted speed at contact: secant on
// log pace, the speed falling nearly as 1/pace. What is to be mended in the stroke is
// mended on the way.
func solve(k stroker, fresh func() *Motion, seed uint64, slowest float64) {
	p, tc := k.tempo(), 0.0
	for range 16 {
		m := fresh()
		k.apply(m, newDraw(seed, streamMotion+20), tc)
		got := velocity(m, tc, -1, body.RacketTip).Norm()
		done := k.tune(m, tc)
		if done && math.Abs(got / *k.wanted() - 1) < 1e-3 {
			return
		}
		*p = max(0.55, min(slowest, *p*got / *k.wanted()))
	}
}

// perform appends the stroke and its ball.
func (m *Motion) perform(k stroker, s Spec, seed uint64, tc float64, ball bool) {
	head := m.joints[heading].goal
	if v, ok := k.(*throw); ok && v.stroke == body.Serve {
		m.matchToss(v, seed, tc)
	}
	a, b := k.apply(m, newDraw(seed, streamMotion+20), tc)
	m.Struck = append(m.Struck, Struck{Stroke: s.Stroke, Start: a, End: b, Contact: tc, Release: k.release(tc), Heading: head})
	st := &m.Struck[len(m.Struck)-1]
	d := newDraw(seed, streamMotion+30)
	switch {
	case !ball:
	case s.Stroke == body.Serve:
		m.served(st, k.(*throw), d)
	default:
		m.meet(st, d, k.dwell())
	}
}

// matchToss sets the tossing arm's span so that the hand rises at release as
// fast as the ball must to be met at contact.
func (m *Motion) matchToss(v *throw, seed uint64, tc float64) {
	for range 6 {
		t := m.clone()
		v.apply(t, newDraw(seed, streamMotion+20), tc)
		center, _, _ := t.headAt(tc)
		need := v.lift(t, &flight{from: -1e9, to: tc - v.toss, hand: body.LeftHand}, center).Y
		got := velocity(t, tc-v.toss, -1, body.LeftHand).Y
		v.tossSpan = max(0.3, min(0.75, v.tossSpan*max(0.5, got)/need))
	}
}

// lift is the velocity with which the ball must leave the hand h to be at p at
// contact: drag is left out of a toss (under 2 % of its speed).
func (v *throw) lift(m *Motion, h *flight, p geom.Vec3) geom.Vec3 {
	u := p.Sub(m.held(h, h.to)).Scale(1 / v.toss)
	u.Y += gravity * v.toss / 2
	return u
}

// clone is a copy that can be moved on by itself.
func (m *Motion) clone() *Motion {
	c := *m
	for j := range c.joints {
		c.joints[j].moves = append([]move(nil), m.joints[j].moves...)
		c.joints[j].blows = append([]blow(nil), m.joints[j].blows...)
		c.joints[j].hops = append([]hop(nil), m.joints[j].hops...)
	}
	return &c
}

// served builds the ball's life around a serve: in the hand, tossed, struck.
func (m *Motion) served(k *Struck, v *throw, d draw) {
	center, vr, n := m.headAt(k.Contact)
	p := onStrings(center, n, d)
	held := flight{from: k.Start - 5, to: k.Release, hand: body.LeftHand, ease: 0.05}
	for range 3 { // the slip moves the release point a little
		held.slip = v.lift(m, &held, p).Sub(velocity(m, k.Release, -1, body.LeftHand))
	}
	at, u := m.held(&held, k.Release), v.lift(m, &held, p)
	toss := flight{from: k.Release, to: k.Contact}
	n1 := int(v.toss/ballTick) + 2
	for i := range n1 {
		t := float64(i) * ballTick
		toss.pos = append(toss.pos, at.Add(u.Scale(t)).Sub(upward.Scale(gravity*t*t/2)))
		toss.vel = append(toss.vel, u.Sub(upward.Scale(gravity*t)))
	}
	k.In = u.Sub(upward.Scale(gravity * v.toss))
	k.Out = struck(k.In, vr, n, d)
	k.Ball = true
	m.balls = append(m.balls, held, toss)
	m.balls = append(m.balls, outgoing(k.Contact, p, k.In, k.Out, max(v.strike.rise, 0.002))...)
}
