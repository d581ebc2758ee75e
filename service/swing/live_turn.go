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
