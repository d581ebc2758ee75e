package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// What the live depth makes of the ball. A ball that leaves its flight at the
// racket shows the contact itself, so it is believed in whatever phase the body
// seems to be.
const (
	ballReach   = 0.60 // m: a ball that turns this near to the racket's tip was hit …
	ballReachBy = 1.1  // m: … or this near to the hand, without racket points

	// ballTurn is the least change of velocity, m/s, of a hit: less than the
	// detector's ballJump, for one camera sees a part of it only, but two sights
	// off the flight and a quick racket are asked for besides.
	ballTurn = 5.0

	// bounceUp is the share of a change of velocity that points up in a bounce; a
	// stroke's goes along the court. bounceLow: a bounce is under the hips by this, m.
	bounceUp, bounceLow = 0.8, 0.5

	// quickFor is how fast the speeds of racket and hand are forgotten, s.
	quickFor = 0.15

	// ballLost is for how long, s, a ball that is not seen is still waited for.
	ballLost = 0.09

	// ballComes is how fast a ball on its way seems at least, m/s: in an image it
	// may come along the line of sight.
	ballComes = 2.5
)

// fade keeps the fastest racket and hand of late.
func (l *live) fade(dt float64) {
	keep := math.Exp(-dt / quickFor)
	l.quickTip, l.quickHand = l.quickTip*keep, math.Max(l.quickHand*keep, l.speed)
	if l.tip.known() {
		l.quickTip = math.Max(l.quickTip, l.tip.v.Norm())
	}
}

// onBall makes the view read where the ball is seen; back undoes it. It is not
// ok where the ball cannot be read in metres.
func (l *live) onBall() (back func(), ok bool) {
	v := &l.view
	world := v.world
	back = func() { v.world = world }
	switch {
	case v.ring.world[body.Ball] >= 0:
		v.world = true
	case v.ring.image[body.Ball] >= 0 && v.scale > 0:
		v.world = false
	default:
		return back, false
	}
	return back, true
}

// awaitsBall reports whether a ball is still on its way to the player, or hangs
// over his head: what slows then is the take-back.
func (l *live) awaitsBall() bool {
	back, ok := l.onBall()
	defer back()
	if !ok {
		return false
	}
	v := &l.view
	for k := v.ring.next; k > v.ring.first; k-- {
		switch _, seen := v.point(k-1, body.Ball); {
		case v.seconds(v.ring.time(k-1), l.us) > ballLost:
			return false
		case seen:
			return v.ballIsOnItsWay(k - 1)
		}
	}
	return false
}

// ballIsOnItsWay reports whether the ball flies toward the body, however slow it
// seems, or hangs over the head.
func (v *view) ballIsOnItsWay(place uint64) bool {
	if v.ballIsComing(place) {
		return true
	}
	vel, n := v.ballSpeed(place, -1)
	c, ok := v.center(place)
	b, ok2 := v.point(place, body.Ball)
	speed := vel.Norm()
	return n > 0 && ok && ok2 && speed > ballComes && vel.Dot(c.Sub(b)) > 0.5*speed*c.Sub(b).Norm()
}

// hitBall calls CONTACT when the ball has left its flight at the racket (or the
// hand) for two sights: at the instant at which the two flights meet.
func (l *live) hitBall(k uint64, to Sink) bool {
	if l.byBall && l.view.seconds(l.struckUS, l.us) < followFor || l.quickTip < thresholds.tipHit && l.quickHand < thresholds.handHit {
		return false
	}
	back, ok := l.onBall()
	defer back()
	if !ok {
		return false
	}
	at, dt, turn, ok := l.ballBreak(k)
	if !ok {
		return false
	}
	back()
	if l.phase != phase.ForwardSwing {
		l.forwardBefore(at, to)
	}
	l.call(phase.Contact, at, math.Max(ballContactSD, 0.3*dt), "the ball turned by %.1f m/s", turn, to)
	l.byBall, l.struckUS = true, at
	l.enter(phase.FollowThrough)
	return true
}

// ballBreak looks whether the newest sight of the ball and the one before it lie
// off its flight, both, as a hit has it: when the flights meet, the time between
// the sights in seconds, and the change of velocity.
func (l *live) ballBreak(k uint64) (at int64, dt, by float64, ok bool) {
	v := &l.view
	x0, seen := v.point(k, body.Ball)
	if !seen || k < v.ring.first+4 {
		return 0, 0, 0, false
	}
	k1 := k - 1
	x1, seen := v.point(k1, body.Ball)
	if !seen {
		k1--
		x1, seen = v.point(k1, body.Ball)
	}
	dt = v.seconds(v.ring.time(k1), l.us)
	in, n := v.flight(k1-1, -1)
	if !seen || n < 3 || dt <= 0 {
		return 0, 0, 0, false
	}
	t1 := v.seconds(v.ring.time(k1-1), v.ring.time(k1))
	out := x0.Sub(x1).Scale(1 / dt)
	off1 := x1.Sub(in.Pos).Sub(in.Vel.Scale(t1)).Norm()
	off0 := x0.Sub(in.Pos).Sub(in.Vel.Scale(t1 + dt)).Norm()
	turn := out.Sub(in.Vel)
	if off1 < ballStray || off0 < off1+ballStray || turn.Norm() < ballTurn {
		return 0, 0, 0, false
	}
	// The flights in.Pos + in.Vel·t and x1 + out·(t − t1) come nearest at t.
	t := x1.Sub(out.Scale(t1)).Sub(in.Pos).Dot(turn) / -turn.Dot(turn)
	t = min(max(t, -dt), t1)
	at = v.ring.time(k1-1) + v.us(t)
	if !l.ballNear(k, k1-1, in.Pos.Add(in.Vel.Scale(t)), turn, v.seconds(at, l.us)) {
		return 0, 0, 0, false
	}
	return at, dt, turn.Norm(), true
}

// ballNear reports whether a ball that turned at x, ago seconds before frame k,
// was then within reach of the racket or the hand, and did not bounce.
func (l *live) ballNear(k, before uint64, x, turn geom.Vec3, ago float64) bool {
	v := &l.view
	c, ok := v.center(k)
	if !ok {
		c, ok = v.center(before)
	}
	if !ok {
		return false
	}
	b := x.Sub(c)
	if up := v.up(k); turn.Dot(up) > bounceUp*turn.Norm() && b.Dot(up) < -bounceLow {
		return false
	}
	if l.tip.known() && l.tipWorld == v.world {
		tip := l.tip.x.Sub(l.tip.v.Scale(ago))
		return b.Sub(tip).Norm() < ballReach+0.02*l.tip.v.Norm()
	}
	w, ok := v.point(before, [...]body.Point{body.LeftWrist, body.RightWrist}[l.side])
	return ok && x.Sub(w).Norm() < ballReachBy
}

// forwardBefore calls the FORWARD_START of a contact that came without one.
func (l *live) forwardBefore(contactUS int64, to Sink) {
	l.topHand, l.topTip, l.topTurn, l.topUS, l.under = l.quickHand, l.quickTip, 0, l.us, 0
	v := l.hands[l.side].v
	if v.Norm() < 0.5 {
		return
	}
	from, ok := l.reversal(v.Scale(1 / v.Norm()))
	if !ok || from >= contactUS {
		return
	}
	l.call(phase.ForwardStart, from, flatForwardSD, "the ball was hit by a hand at %.1f m/s", l.speed, to)
}
