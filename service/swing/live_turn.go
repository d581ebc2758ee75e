package swing

import (
	"math"

	"example.com/courtkin/service/phase"
)

// seeTurn calls TURN_START once the chest has turned far enough at a turning rate.
// A turn after which the chest came to rest gives way to the next one alike: the
// first was a look aside or the end of a recovery.
func (l *live) seeTurn(to Sink) {
	r := l.rate
	if !l.view.world {
		r = turnOn * l.speed / forwardHand * 1.5 // an image shows the hands leave, not the chest turn
	}
	dt := l.view.seconds(l.was, l.us)
	l.wayTurned += r * dt
	switch {
	case math.Abs(r) < turnOff || r*l.turned < 0:
		l.turnFrom, l.turned = l.us, 0
	default:
		l.turned += r * dt
	}
	if math.Abs(r) >= turnOff {
		l.restFrom = l.us
	}
	if l.view.seconds(l.restFrom, l.us) > turnRest {
		l.rested = true
	}
	least, rate := l.turnNeeds()
	on := l.called[phase.TurnStart].on
	switch {
	case l.view.seconds(l.beganUS, l.us) < turnWarm || l.view.seconds(l.hitUS, l.us) < followFor:
	case math.Abs(l.turned) < least || math.Abs(r) < rate:
	case !on || l.rested && l.turned*l.takeBack > 0:
		l.takeBack, l.wayTurned, l.rested = l.turned, l.turned, false
		l.call(phase.TurnStart, l.turnFrom, l.turnSD(), "the chest has turned %.0f deg", math.Abs(l.turned), to)
		l.enter(phase.TakeBack)
		return
	}
	if on && l.view.world && l.phase == phase.TakeBack && l.wayTurned*l.takeBack < 0 {
		l.withdraw(phase.TurnStart, "the chest turned back", to)
		l.enter(phase.Ready)
	}
}

// turnBefore calls the TURN_START of a forward swing at an instant that came without one: a client hears of
// a swing's events in the order of time. It began where the chest's turn was last under
// a fifth of its fastest before that, as the detector's samples have it.
func (l *live) turnBefore(us int64, to Sink) {
	d := l.det
	if l.called[phase.TurnStart].on || len(d.trail) == 0 {
		return
	}
	unwinds := l.rate
	if !l.view.world {
		unwinds = float64(d.trail[len(d.trail)-1].turn)
	}
	from, rate, ok := d.turnedFrom(us, -math.Copysign(1, unwinds))
	if !ok || math.Abs(rate) < turnOn {
		return
	}
	l.takeBack, l.wayTurned, l.rested = rate, 0, false
	l.call(phase.TurnStart, from, l.turnSD(), "the chest turned at %.0f deg/s", math.Abs(rate), to)
}

// turnStill is the share of the fastest turn under which a turn has not begun (TURN_START's definition).
const turnStill = 0.2

// turnedFrom returns when the fastest turn along sign before an instant began, within windReach, and its
// rate, deg/s; ok is false where the trail does not show it.
func (d *detector) turnedFrom(us int64, sign float64) (from int64, rate float64, ok bool) {
	at := -1
	for i := range d.trail {
		s := &d.trail[i]
		if age := d.view.seconds(s.timeUS, us); age > 0 && age < windReach && float64(s.turn)*sign > rate*sign {
			at, rate = i, float64(s.turn)
		}
	}
	for i := at; i >= 0; i-- {
		if float64(d.trail[i].turn)*sign < turnStill*math.Abs(rate) {
			return d.trail[i].timeUS, rate, true
		}
	}
	return 0, rate, false
}

// turnSD is the sd of a turn's start, seconds: the noisier the shoulders, the longer
// a turn hides in it.
func (l *live) turnSD() float64 {
	if !l.view.world {
		return turnSD
	}
	return math.Min(turnSD, turnSDNoise*l.line.noise)
}

// meet begins anew with somebody else. What was called of a swing that has not come
// to its contact is taken back.
func (l *live) meet(to Sink) {
	for _, f := range [...]*filter{&l.center, &l.hands[left], &l.hands[right], &l.line, &l.tip, &l.butt} {
		*f = filter{memory: f.memory}
	}
	l.trailN, l.speed, l.rate, l.quickTip, l.quickHand = 0, 0, 0, 0, 0
	l.beganUS, l.restFrom = l.us, l.us
	l.trace.tell(l.us, "somebody else comes into view")
	if l.phase == phase.TakeBack || l.phase == phase.ForwardSwing {
		const why = "somebody else came into view"
		l.withdraw(phase.ForwardStart, why, to)
		l.withdraw(phase.TurnStart, why, to)
		l.enter(phase.Ready)
	}
}
