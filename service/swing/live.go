package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// What the live depth goes by. Its findings are provisional: it never decides
// what is a swing, and the settled depth takes nothing from it.
const (
	handMemory  = 0.030 // s: as short as a hand's noise in one phone's view (25 mm) lets it be
	trunkMemory = 0.060 // s: the chest turns slowly
	tipMemory   = 0.015 // s: the racket is quick and its points are good

	turnOn    = 60.0 // deg/s: the chest is turning
	turnOff   = 25.0 // deg/s: it is not
	turnLeast = 15.0 // deg: turned so far, the turn is called
	turnRest  = 0.4  // s: a chest that does not turn for so long has come to rest
	turnWarm  = 0.3  // s: before, a stream's turn rates are noise
	turnWait  = 2.2  // s: a turn with no forward swing after it is taken back

	forwardHand = 2.4 // m/s: the hand is swinging forward when the chest turns back …
	forwardTurn = 60  // deg/s: … at this rate at least
	forwardFree = 3.4 // m/s: or at this hand speed whatever the chest does
	forwardTip  = 6.0 // m/s: or at this speed of the racket's tip
	forwardWait = 0.6 // s: a forward swing without contact is taken back
	liftRise    = 0.8 // a hand that goes up by this share of its speed …
	liftTurn    = 180 // deg/s: … under a chest that turns slower than this tosses or lifts

	contactHand = 3.0  // m/s: least top hand speed for a contact told by the hands
	contactTurn = 220  // deg/s: least top turn rate with it
	contactTip  = 6.5  // m/s: least top tip speed for a contact told by the racket
	flatHand    = 1.5  // m/s: least hand speed with it, seen in an image alone
	tipLoss     = 0.88 // share of its top below which the tip has met something
	handLoss    = 0.94 // the same for the hand
	followEnd   = 0.25 // share of the top speed at which the follow-through is over
	followFor   = 0.8  // s: what follows a contact within this and is not faster belongs to it
	readyHand   = 1.2  // m/s: the hands of a player who waits
)

// Standard deviations of the provisional events, seconds, as measured on
// made practices against their true events (TestSurveyPractices).
const (
	turnSD        = 0.30 // at most
	turnSDNoise   = 5.0  // s for each metre of noise of the shoulder line
	forwardSD     = 0.12
	ballContactSD = 0.008
	tipContactSD  = 0.025
	handContactSD = 0.090

	// The same for a racket that is not seen, or in an image alone.
	flatForwardSD, flatContactSD = 0.22, 0.12
)

// past is a short history of the faster hand.
type past struct {
	us  int64
	pos geom.Vec3
}

// called is a provisional event that was announced and still holds.
type called struct {
	on bool
	us int64
	sd float64 // s
}

// live is the live depth: causal filters on a few points, the running phase,
// provisional events, readings.
type live struct {
	trace *tracer
	feeds feeds
	det   *detector // read only: how far the chest was wound up
	view  view
	hand  body.Hand
	court bool

	// Updated each frame.
	us, was                  int64
	begun                    bool
	center                   filter
	hands                    [2]filter
	line                     filter // left to right shoulder
	tip                      filter // relative to the body's centre, as the hands are
	butt                     filter
	ball                     filter
	phase                    phase.Kind
	since                    int64 // when the phase began
	speed                    float64
	side                     int
	rate                     float64 // deg/s
	trail                    [48]past
	trailN                   uint64
	called                   [phase.NumEvents]called
	handed                   [phase.NumEvents]called // those of the last swing that was found
	topHand                  float64
	topTip                   float64
	topTurn                  float64
	topUS                    int64 // when the deciding speed was at its top
	under                    int   // frames in a row under the top
	turnFrom                 int64
	turned                   float64 // deg since turnFrom
	beganUS, restFrom, hitUS int64   // of the stream; of the chest's rest; of the last contact that was called
	rested                   bool    // since the last turn that was called
	wayTurned                float64 // deg since the last turn that was called began
	takeBack                 float64 // sign of the take-back's turn

	open       bool   // it is open how much the clip is slowed:
	lanes      *lanes // … which of these it is
	telling    bool   // what is called now the ball tells
	judged     judged
	early      early
	strings    [16]onStrings // of the last frames that show the ball and the racket's head
	stringsN   uint64
	byBall     bool    // the last contact was told by the ball …
	struckUS   int64   // … at this time …
	struckSure float64 // … as surely as so many standard deviations …
	struckUp   bool    // … its velocity changing up or down, as in a bounce
	metUS      int64   // when the ball seemed to turn at the frame before
	metSlowUS  int64   // … in a clip that is slowed
	quickTip   float64 // m/s: fastest tip of late, fading
	quickHand  float64 // m/s: fastest hand of late, fading

	tipUS    int64     // when the tip was last seen
	tipWorld bool      // in the world; else in the image
	heading  geom.Vec3 // where the chest faces in READY, slowly followed
	readUS   int64
}

// restart begins anew on the camera of d.
func (l *live) restart(d *detector, s *Setup) {
	*l = live{trace: l.trace, feeds: l.feeds, det: d, view: d.view, hand: s.Player.Hand, court: s.onCourt(), phase: phase.Ready}
	l.hands[left].memory, l.hands[right].memory = handMemory, handMemory
	l.center.memory, l.line.memory = trunkMemory, trunkMemory
	l.tip.memory, l.butt.memory, l.ball.memory = tipMemory, tipMemory, tipMemory
}

// step takes the newest frame of the ring.
func (l *live) step(to Sink) {
	k := l.view.ring.next - 1
	l.was, l.us = l.us, l.view.ring.time(k)
	if !l.begun {
		l.begun, l.was, l.readUS, l.since = true, l.us, l.us, l.us
		l.beganUS, l.restFrom, l.hitUS = l.us, l.us, l.us-l.view.us(followFor)
	}
	if l.view.ring.wall(k) {
		l.meet(to)
	}
	l.look(k)
	l.follow(k, l.view.seconds(l.was, l.us))
	l.seeStrings(k)
	l.judge(k, to)
	l.claim(to)
	l.read(to)
}

// look decides whether this frame is read in the world or in the image; the
// image's scale is taken about ten times a second.
func (l *live) look(k uint64) {
	v := &l.view
	v.world = v.ring.worldAt(k, body.LeftWrist).Score > 0 || v.ring.worldAt(k, body.RightWrist).Score > 0
	if l.was == l.us || l.us/100_000 != l.was/100_000 {
		l.rescale(k)
	}
	if v.scale == 0 {
		v.world = true // no scale, no image
	}
}

// rescale takes the image's scale anew, at frame k. What was followed in the image is brought
// to it: a point that seems to move because its metre changed has not moved.
func (l *live) rescale(k uint64) {
	v := &l.view
	was := v.scale
	scale := v.metresPerPixel(k)
	v.scale = scale
	if was == 0 || scale == 0 || was == scale {
		return
	}
	by := scale / was
	if !v.world {
		for _, f := range [...]*filter{&l.center, &l.hands[left], &l.hands[right], &l.line, &l.butt} {
			f.scale(by)
		}
		for i := range l.trail {
			l.trail[i].pos = l.trail[i].pos.Scale(by)
		}
	}
	if !l.tipWorld {
		l.tip.scale(by)
	}
}

// follow moves the filters on.
func (l *live) follow(k uint64, dt float64) {
	v := &l.view
	c, ok := v.center(k)
	l.center.step(dt, c, ok)
	c, ok = l.center.x, l.center.known()
	for side, p := range [...]body.Point{body.LeftWrist, body.RightWrist} {
		x, seen := v.point(k, p)
		l.hands[side].step(dt, x.Sub(c), seen && ok)
	}
	line, seen := shoulderLine(v, k)
	l.line.step(dt, line, seen)
	l.followRacket(k, dt, c, ok)
	l.pickHand()
	l.fade(dt)
	l.rate = l.turnRate(k)
	if l.trailN == 0 || l.us-l.trail[(l.trailN-1)%uint64(len(l.trail))].us >= v.us(0.010) {
		l.trail[l.trailN%uint64(len(l.trail))] = past{l.us, l.hands[l.side].x}
		l.trailN++
	}
}

// pickHand takes the hand that holds the racket, as the setup or an earlier
// swing says; else the one at the butt; else the faster one.
func (l *live) pickHand() {
	was := l.side
	switch {
	case l.hand == body.RightHanded:
		l.side = right
	case l.hand == body.LeftHanded:
		l.side = left
	case l.butt.known() && l.view.world:
		l.side = left
		if l.hands[right].x.Sub(l.butt.x).Norm() < l.hands[left].x.Sub(l.butt.x).Norm() {
			l.side = right
		}
	default:
		l.side = left
		if l.hands[right].v.Norm() > l.hands[left].v.Norm() {
			l.side = right
		}
	}
	if !l.hands[l.side].known() {
		l.side = 1 - l.side
	}
	l.speed = 0
	if l.hands[l.side].known() {
		l.speed = l.hands[l.side].v.Norm()
	}
	if l.side != was {
		l.trailN = 0
	}
}

// lifting reports whether the hand goes up under a chest at rest: a toss or a lift.
func (l *live) lifting(k uint64) bool {
	up := l.view.up(k)
	return l.view.world && l.hands[l.side].v.Dot(up) > liftRise*l.speed && math.Abs(l.rate) < liftTurn
}

// followRacket moves the racket's filters on; its points may be in the image alone.
func (l *live) followRacket(k uint64, dt float64, c geom.Vec3, ok bool) {
	v := &l.view
	tip, seen := v.point(k, body.RacketTip)
	if seen {
		l.tipWorld = v.world
	} else if v.world && v.scale > 0 && v.ring.world[body.RacketTip] < 0 {
		l.tipWorld = false
		v.world = false
		c, ok = v.center(k)
		tip, seen = v.point(k, body.RacketTip)
		v.world = true
	}
	seen = seen && ok
	x := tip.Sub(c)
	l.tip.step(dt, x, seen)
	if seen {
		l.tipUS = l.us
	}
	b, seen := v.point(k, body.RacketButt)
	l.butt.step(dt, b.Sub(c), seen && ok)
}

// turnRate returns the chest's turn rate, deg/s; 0 when it cannot be seen.
func (l *live) turnRate(k uint64) float64 {
	if !l.view.world || !l.line.known() {
		return 0
	}
	up := l.view.up(k)
	flat := l.line.x.Sub(up.Scale(l.line.x.Dot(up)))
	const narrow = 0.15
	return geom.Angle(flat.Cross(l.line.v).Dot(up) / math.Max(flat.Dot(flat), narrow*narrow)).Degrees()
}

// judge moves the running phase on.
func (l *live) judge(k uint64, to Sink) {
	if l.hitBall(k, to) {
		return
	}
	switch l.phase {
	case phase.Ready, phase.Recovery:
		if l.meetsSlowly(k, to) {
			return
		}
		l.seeTurn(to)
		l.seeForward(k, to)
	case phase.TakeBack:
		if l.meetsSlowly(k, to) {
			return
		}
		l.seeTurn(to)
		l.seeForward(k, to)
		if l.phase == phase.TakeBack && l.view.seconds(l.since, l.us) > turnWait {
			l.withdraw(phase.TurnStart, "no forward swing followed the turn", to)
			l.enter(phase.Ready)
		}
	case phase.ForwardSwing:
		l.seeContact(k, to)
	case phase.FollowThrough:
		l.seeFollowEnd()
	}
}

// seeForward calls FORWARD_START: the last instant at which the hand did not
// yet move the way it moves now.
func (l *live) seeForward(k uint64, to Sink) {
	back := l.view.world && l.rate*l.takeBack < 0 && math.Abs(l.rate) > forwardTurn
	fast := l.speed >= forwardFree || l.tip.known() && l.tip.v.Norm() >= forwardTip
	if !(l.speed >= forwardHand && back || fast) || l.lifting(k) || !l.wound(k) || l.following() {
		return
	}
	h := &l.hands[l.side]
	f := h.v.Scale(1 / l.speed)
	from, ok := l.reversal(f)
	if !ok || !l.travels(f) {
		return
	}
	l.topHand, l.topTip, l.topTurn, l.topUS, l.under = l.speed, 0, 0, l.us, 0
	sd := forwardSD
	if !l.view.world || !l.tip.known() || !l.tipWorld {
		sd = flatForwardSD
	}
	l.turnBefore(from, to)
	l.call(phase.ForwardStart, from, sd, "the hand swings forward at %.1f m/s", l.speed, to)
	l.enter(phase.ForwardSwing)
}

// following reports whether the motion is still the follow-through of the
// contact that was called last: soon after it, and not clearly faster.
func (l *live) following() bool {
	if l.byBall && l.view.seconds(l.struckUS, l.us) < followFor {
		return true // a ball that was hit is not hit again so soon
	}
	if c := l.called[phase.Contact]; !c.on || l.view.seconds(c.us, l.us) > followFor {
		return false
	}
	return l.speed < 1.2*l.topHand && (l.topTip == 0 || l.tip.v.Norm() < 1.2*l.topTip)
}

// wound reports whether the swing could be a forward one: the chest turned the
// other way before, or the hand is over the shoulders.
func (l *live) wound(k uint64) bool {
	d := l.det
	if len(d.trail) == 0 {
		return false
	}
	rate := l.rate
	if !l.view.world {
		rate = float64(d.trail[len(d.trail)-1].turn)
	}
	if h := l.hands[l.side].x.Dot(l.view.up(k)); h > thresholds.above {
		return true
	}
	if rate == 0 {
		return false
	}
	wind, _ := d.unwound(len(d.trail)-1, math.Copysign(1, rate))
	return wind >= d.leastWind(l.view.world)
}

// travelFor, s, is how long a hand's way is looked at that swings forward, and travelLeast how many times
// what its sights are off the filter's prediction, 1.6 of their sds, it is at least: the way's own noise is 1.7 of them.
const travelFor, travelLeast = 0.1, 3.0

// travels reports whether the hand has gone further along f, of late, than noise has it go: a filter
// that follows it closely has a hand at rest in a phone's view move at 2 m/s.
func (l *live) travels(f geom.Vec3) bool {
	h := &l.hands[l.side]
	n := min(l.trailN, uint64(len(l.trail)))
	for i := uint64(1); i <= n; i++ {
		p := &l.trail[(l.trailN-i)%uint64(len(l.trail))]
		if l.view.seconds(p.us, l.us) >= travelFor {
			return h.x.Sub(p.pos).Dot(f) > travelLeast*h.noise
		}
	}
	return true
}

// reversal looks back for the last instant at which the hand moved less than
// 5 % of its present speed along f; ok is false when that is not in the trail.
func (l *live) reversal(f geom.Vec3) (int64, bool) {
	n := min(l.trailN, uint64(len(l.trail)))
	for i := uint64(1); i < n; i++ {
		b := &l.trail[(l.trailN-i)%uint64(len(l.trail))]
		a := &l.trail[(l.trailN-i-1)%uint64(len(l.trail))]
		dt := l.view.seconds(a.us, b.us)
		if dt <= 0 || l.view.seconds(b.us, l.us) < 0.02 {
			continue
		}
		if b.pos.Sub(a.pos).Dot(f)/dt < 0.05*l.speed {
			return (a.us + b.us) / 2, true
		}
	}
	return 0, false
}

// seeFollowEnd ends the follow-through.
func (l *live) seeFollowEnd() {
	over := l.speed < followEnd*l.topHand
	if l.topTip > 0 && l.tip.known() {
		over = l.tip.v.Norm() < followEnd*l.topTip
	}
	if over || l.view.seconds(l.since, l.us) > thresholds.longest {
		l.enter(phase.Recovery)
	}
}

// enter begins a phase.
func (l *live) enter(p phase.Kind) { l.phase, l.since, l.turned = p, l.us, 0 }
