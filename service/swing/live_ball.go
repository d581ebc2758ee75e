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

	// turnOfTwo and turnOfThree are the least change of velocity, m/s, of a hit
	// after which two or three sights were had: less than the detector's ballJump,
	// for one camera sees a part of it only, but a quick racket is asked for
	// besides. Two sights 1/60 s apart give a velocity to 1 m/s, three to half of it.
	turnOfTwo, turnOfThree = 5.0, 4.0

	// ballStrayThree is how far off the flight each of three sights must be further
	// than the one before, m: three tell what two (ballStray) leave in doubt.
	ballStrayThree = 0.04

	// farTip and farHand, m/s, are enough for a change of ballJump and more: a
	// racket that meets a fast ball along the line of sight looks slow.
	farTip, farHand = 3.0, 1.5

	// bounceUp is the share of a change of velocity that points up in a bounce; a
	// stroke's goes along the court. bounceLow: a bounce is under the hips by this,
	// m. A gentle turn straight up or down at any height is a toss, a catch or a
	// ball bounced by hand.
	bounceUp, bounceLow = 0.8, 0.5

	// ballPassed is how near, m, the tip comes to the ball that it passes: the
	// strings' middle is 0.17 m from it, and the ball moves on until it is seen.
	ballPassed = 0.45

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

// openEase is the share of what is asked of the speeds of racket, hand and ball while it is open
// how much the clip is slowed: it may be four times. That a flight broke is told by the sights'
// noise, in any clock.
const openEase = 0.25

// ease returns the share of the least speeds that is asked for.
func (l *live) ease() float64 {
	if l.open {
		return openEase
	}
	return 1
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

// ballWord is what a ball in view says to a racket or a hand that slows.
type ballWord uint8

const (
	ballSilent    ballWord = iota // nothing, or nothing any more
	ballComing                    // it is on its way, or at the racket, and would show by itself that it was hit
	ballElsewhere                 // it is not near the racket: what slows is a take-back, or seems to
)

// ballTells is for how long, s, after racket or hand was at its fastest a ball at the racket is left
// to show by itself that it was hit: two sights at 60 Hz show most hits, and seen in an image, or
// smoothed, a racket is at its fastest up to 0.05 s before contact.
const ballTells = 0.080

// ballAbout is how far back, s, a ball that is near the racket now or then counts as near: what a
// racket takes from its fastest to two sights of having slowed.
const ballAbout = 0.12

// ballSays tells what the ball in view says of the contact that racket or hand seem to show. A ball
// that is on its way to the player, or hangs over his head, was not hit yet, but where the
// racket's tip has passed it: hit along the line of sight, it seems to fly on.
func (l *live) ballSays() ballWord {
	back, ok := l.onBall()
	defer back()
	if !ok {
		return ballSilent
	}
	v := &l.view
	seen := false
	for k := v.ring.next; k > v.ring.first; k-- {
		ago := v.seconds(v.ring.time(k-1), l.us)
		b, ok := v.point(k-1, body.Ball)
		switch {
		case ago > ballAbout || !seen && ago > ballLost:
			if seen {
				return ballElsewhere
			}
			return ballSilent
		case !ok:
			continue
		case !seen && v.ballIsOnItsWay(k-1) && !l.passed(b, k-1):
			return ballComing
		}
		seen = true
		if l.ballByRacket(k - 1) {
			break
		}
	}
	if seen && v.seconds(l.topUS, l.us) < ballTells {
		return ballComing
	}
	return ballSilent
}

// ballByRacket reports whether a ball is at the racket's head at a frame, by the hand that hits
// where no racket is seen.
func (l *live) ballByRacket(k uint64) bool {
	v := &l.view
	if on := v.ballOnHead(k); !math.IsInf(on, 1) {
		return on < 1
	}
	b, _ := v.point(k, body.Ball)
	w, ok := v.point(k, [...]body.Point{body.LeftWrist, body.RightWrist}[l.side])
	return ok && b.Sub(w).Norm() < strikeReach
}

// passed reports whether the tip was within reach of a ball when it was fastest.
func (l *live) passed(ball geom.Vec3, k uint64) bool {
	v := &l.view
	top := v.ring.since(l.topUS)
	c, ok := v.center(k)
	c0, ok0 := v.center(top)
	tip, seen := v.point(top, body.RacketTip)
	return ok && ok0 && seen && l.topTip > 0 && ball.Sub(c).Sub(tip).Add(c0).Norm() < ballPassed
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
// hand) for two sights or three: at the instant at which the two flights meet.
func (l *live) hitBall(k uint64, to Sink) bool {
	ease := l.ease()
	if l.quickTip < farTip*ease && l.quickHand < farHand*ease {
		return false
	}
	back, ok := l.onBall()
	defer back()
	if !ok {
		return false
	}
	again := l.byBall && l.view.seconds(l.struckUS, l.us) < followFor // not hit again so soon; but perhaps it was not hit then
	if again && l.metBall(to, back) {
		return true
	}
	b := l.ballBreak(k, 2, turnOfTwo*ease)
	if !b.ok {
		b = l.ballBreak(k, 3, turnOfThree*ease)
	}
	if !b.ok && !again && l.metBall(to, back) {
		return true
	}
	slow := l.quickTip < thresholds.tipHit*ease && l.quickHand < thresholds.handHit*ease
	if !b.ok || slow && b.turn < ballJump || l.stray(b.turn) {
		return false
	}
	sure, ok := l.view.breakTold(b.place)
	if !ok || again && (!l.outdoes(sure, b.by) || math.Abs(l.view.seconds(l.struckUS, b.us)) < hitNear) {
		return false
	}
	back()
	if l.saidNear(b.us) {
		l.struck(b.us, sure, b.by)
		return true
	}
	if l.phase != phase.ForwardSwing {
		l.forwardBefore(b.us, to)
	}
	l.telling = true
	l.call(phase.Contact, b.us, math.Max(ballContactSD, 0.3*b.gap), "the ball turned by %.1f m/s", b.turn, to)
	l.struck(b.us, sure, b.by)
	return true
}

// The sights of metFrom and more after the break tell a turn that the first two leave in doubt: a
// ball that is hit along the line of sight turns little across an image. While few have
// come, a break seems to be now here, now there: so it must be at the same place twice,
// but where it is plain and the ball alone leaves so little to ask of hand and racket as
// metSure (a gain of 100: ten sds).
const (
	metFrom, metTo = 0.030, 0.15 // s
	metSure        = 0.25        // share
	metStays       = 0.010       // s

	// metSD is the sd of a contact that is told so, s, as measured on made practices.
	metSD = 0.020

	// faintSD is the same of one that shows beside a swing alone, s.
	faintSD = 0.030
)

// metBall calls CONTACT where the detector, too, would see the ball hit, back
// undoing the ball's view. A hit that was called shortly before and is less sure, elsewhere, was
// none: a ball that comes to the racket may seem to turn as it passes before or behind it.
// While it is open how much the clip is slowed, it is asked in a slowed clip, too, whose flights
// last longer and bend less; the contact is then told to the time of one.
func (l *live) metBall(to Sink, back func()) bool {
	v := &l.view
	if l.quickTip < thresholds.tipStruck*l.ease() || !v.shows(body.RacketTip) {
		return false
	}
	sd, again, swings := metSD, l.byBall && v.seconds(l.struckUS, l.us) < followFor, l.swings
	s, ok := l.strikeOfLate(&l.metUS)
	if ok && s.faint {
		sd, ok = faintSD, !again && l.swingsHard(back)
	}
	if !ok && l.open && v.ring.next%2 == 0 { // frames of a slowed clip lie close enough
		v.slow /= openEase
		s, ok = l.strikeOfLate(&l.metSlowUS)
		v.slow *= openEase
		ok = ok && !s.faint
		if c := &l.called[phase.Contact]; c.on && c.sd <= faintSD && v.seconds(c.us, l.us) < followFor {
			return false // told in true time, and better
		}
		again = again || l.byBall && l.struckSure == 0 && v.seconds(l.struckUS, l.us) < followFor/openEase
		sd, s.sure, swings = metSD/openEase, 0, l.swingsSlowed // anything surer takes its place
	}
	if !ok {
		return false
	}
	if again && math.Abs(v.seconds(l.struckUS, s.atUS)) < hitNear {
		l.struckSure = math.Max(l.struckSure, s.sure)
		return false
	}
	if again && !l.outdoes(s.sure, s.turn) {
		return false
	}
	if !again {
		if l.saidNear(s.atUS) {
			l.struck(s.atUS, s.sure, s.turn)
			return false
		}
		if c := &l.called[phase.Contact]; s.faint && c.on && v.seconds(c.us, l.us) < followFor {
			return false
		}
	}
	if v.upright(s.turn) && !swings() {
		return false
	}
	back()
	if l.phase != phase.ForwardSwing {
		l.forwardBefore(s.atUS, to)
	}
	l.telling = true
	l.call(phase.Contact, s.atUS, sd, "the ball has turned by %.1f m/s at the racket", s.jump, to)
	l.struck(s.atUS, s.sure, s.turn)
	return true
}

// strikeOfLate looks for the ball's hit shortly before; ok is true when it is told. metUS is where
// it seemed to be at the frame before.
func (l *live) strikeOfLate(metUS *int64) (s strike, ok bool) {
	v := &l.view
	v.faint = true
	s = v.strikeBetween(l.us-v.us(metTo), l.us, l.us-v.us((metFrom+metTo)/2))
	v.faint = false
	was := *metUS
	if *metUS = s.atUS; !s.hit { // a view that is new may hold one frame alone
		return s, false
	}
	frame := v.seconds(v.ring.time(v.ring.next-2), l.us) // the break may lie in one gap or the next
	stays := math.Abs(v.seconds(was, s.atUS)) < metStays+frame/2 || s.plain && s.asks < metSure
	return s, stays && v.seconds(s.atUS, l.us) >= metFrom && !l.stray(s.jump)
}

// struck notes that the ball told the contact, as surely as sure standard deviations, when its velocity
// changed by turn.
func (l *live) struck(us int64, sure float64, turn geom.Vec3) {
	l.telling = false
	l.byBall, l.struckUS, l.struckSure, l.struckUp = true, us, sure, l.view.upright(turn)
	l.enter(phase.FollowThrough)
}

// outdoes reports whether a break of the ball's flight is more of a hit than the one that was
// called: it is surer, or that one went up or down as a bounce does, and this one does not. A
// ball that bounces before the racket as it is taken back breaks its flight as surely as one that is hit.
func (l *live) outdoes(sure float64, turn geom.Vec3) bool {
	return sure > l.struckSure || l.struckUp && !l.view.upright(turn)
}

// upright reports whether a change of velocity goes up or down as in a bounce.
func (v *view) upright(turn geom.Vec3) bool {
	return math.Abs(turn.Dot(v.up(v.ring.next-1))) > bounceUp*turn.Norm()
}

// ballBreak is where two flights meet.
type ballBreak struct {
	ok    bool
	us    int64
	gap   float64   // s between the sights next to it
	turn  float64   // m/s: change of velocity …
	by    geom.Vec3 // … and which way
	place uint64    // of the last sight before it
}

// ballBreak looks whether the newest n sights of the ball lie off its flight,
// each further than the one before, as a hit has it that turns it by least m/s.
func (l *live) ballBreak(k uint64, n int, least float64) (b ballBreak) {
	v := &l.view
	if k < v.ring.first+8 {
		return b
	}
	var sights [3]uint64 // newest first
	found := 0
	for i := uint64(0); i < uint64(n)+1 && found < n; i++ {
		if _, seen := v.point(k-i, body.Ball); seen {
			sights[found] = k - i
			found++
		} else if i == 0 {
			return b
		}
	}
	if found < n {
		return b
	}
	k1 := sights[n-1]
	in, seenIn := v.flight(k1-1, -1)
	if seenIn < 3 {
		return b
	}
	step := ballStray
	if n > 2 {
		step = ballStrayThree
	}
	was := 0.0
	for i := n - 1; i >= 0; i-- {
		x, _ := v.point(sights[i], body.Ball)
		off := x.Sub(in.Pos).Sub(in.Vel.Scale(v.seconds(v.ring.time(k1-1), v.ring.time(sights[i])))).Norm()
		if off < was+step {
			return b
		}
		was = off
	}
	b.place = k1 - 1
	x0, _ := v.point(k, body.Ball)
	x1, _ := v.point(k1, body.Ball)
	b.gap = v.seconds(v.ring.time(k1-1), v.ring.time(k1))
	dt := v.seconds(v.ring.time(k1), l.us)
	out := x0.Sub(x1).Scale(1 / dt)
	turn := out.Sub(in.Vel)
	b.turn, b.by = turn.Norm(), turn
	if upright := math.Abs(turn.Dot(v.up(k))) > bounceUp*b.turn; b.turn < least || b.turn < ballJump && upright {
		return b
	}
	for _, s := range sights[1 : n-1] {
		x, _ := v.point(s, body.Ball)
		if x1.Add(out.Scale(v.seconds(v.ring.time(k1), v.ring.time(s)))).Sub(x).Norm() > ballStrayThree {
			return b // no flight either
		}
	}
	// The flights in.Pos + in.Vel·t and x1 + out·(t − gap) come nearest at t.
	t := x1.Sub(out.Scale(b.gap)).Sub(in.Pos).Dot(turn) / -turn.Dot(turn)
	t = min(max(t, -b.gap), b.gap)
	b.us = v.ring.time(k1-1) + v.us(t)
	b.ok = l.ballNear(k, k1-1, in.Pos.Add(in.Vel.Scale(t)), turn, v.seconds(b.us, l.us))
	return b
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
	l.turnBefore(from, to)
	l.call(phase.ForwardStart, from, flatForwardSD, "the ball was hit by a hand at %.1f m/s", l.speed, to)
}
