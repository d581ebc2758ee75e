package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// call announces an event.
func (l *live) call(e phase.EventKind, us int64, sd float64, why string, figure float64, to Sink) {
	l.withdraw(e, "another took its place", to)
	l.called[e] = called{true, us, sd}
	if e == phase.Contact {
		l.hitUS = us
	}
	if l.trace != nil {
		l.trace.called(l.us, e, us, why, figure)
	}
	to.Event(LiveEvent{Kind: e, TimeUS: us, SDUS: l.view.us(sd), byBall: l.telling})
}

// saidNear reports whether a contact was called shortly before that holds where the ball tells it
// now: to say it again a little off helps nobody, unless it was told but roughly.
func (l *live) saidNear(us int64) bool {
	c := &l.called[phase.Contact]
	if !c.on || l.view.seconds(c.us, l.us) >= followFor {
		return false
	}
	holds := c.sd / 2
	if c.sd <= faintSD {
		holds = c.sd
	}
	return math.Abs(l.view.seconds(c.us, us)) < holds
}

// withdraw takes an announced event back.
func (l *live) withdraw(e phase.EventKind, why string, to Sink) {
	c := l.called[e]
	if !c.on {
		return
	}
	l.called[e].on = false
	l.trace.withdrawn(l.us, e, why)
	to.Event(LiveEvent{Kind: e, TimeUS: c.us, Withdrawn: true, refused: why == noSwing || why == noSwingCame})
}

// withdrawAll takes back whatever is announced, the latest event first.
func (l *live) withdrawAll(why string, to Sink) {
	for _, e := range [...]phase.EventKind{phase.Contact, phase.ForwardStart, phase.TurnStart} {
		l.withdraw(e, why, to)
	}
}

const noSwing, noSwingCame = "it was no swing", "no swing came of it"

// refused hears that the burst that ended was no swing, as a verdict has it. A contact
// announced far from it is another motion's.
func (l *live) refused(j *verdict, to Sink) {
	if c := l.called[phase.Contact]; c.on && l.view.seconds(j.contactUS, c.us) > guessReach+0.1 {
		return
	}
	if l.called[phase.Contact].on || l.phase == phase.FollowThrough || l.phase == phase.Recovery {
		l.withdrawAll(noSwing, to)
		l.enter(phase.Ready)
	}
}

// found hears that the burst was a swing, as a verdict has it. A contact announced
// far from it was another motion's.
func (l *live) found(j *verdict, to Sink) {
	if c := l.called[phase.Contact]; c.on && math.Abs(l.view.seconds(c.us, j.contactUS)) > guessReach+0.1 {
		l.withdraw(phase.Contact, "the swing's contact was elsewhere", to)
	}
	if !l.called[phase.Contact].on {
		l.callJudged(j, to)
	}
	l.handed, l.called = l.called, [phase.NumEvents]called{}
	l.enter(phase.Recovery)
}

// claims reports whether the contact of a swing that was found in frames that had waited was
// called as they came; what was called of that swing then stands.
func (l *live) claims(contactUS int64) bool {
	c := l.called[phase.Contact]
	if !c.on || math.Abs(l.view.seconds(c.us, contactUS)) > guessReach+0.1 {
		return false
	}
	for _, e := range [...]phase.EventKind{phase.TurnStart, phase.ForwardStart, phase.Contact} {
		l.handed[e] = called{}
		if l.called[e].on && l.called[e].us <= c.us {
			l.handed[e], l.called[e] = l.called[e], called{}
		}
	}
	return true
}

// retract withdraws what is announced, and what belonged to the last swing.
func (l *live) retract(why string, to Sink) {
	l.withdrawAll(why, to)
	l.called = l.handed
	l.withdrawAll(why, to)
}

// unclaimedFor is for how long, s, a contact stands that no burst has claimed: one opens within
// a tenth of a second of it, and lasts no longer than this after its peak.
const unclaimedFor = 1.4

// claim takes a contact back that no burst claims as its own.
func (l *live) claim(to Sink) {
	if c := l.called[phase.Contact]; c.on && !l.det.b.on && l.view.seconds(c.us, l.us) > unclaimedFor {
		l.withdrawAll(noSwingCame, to)
	}
}

// finish takes back what never came to anything.
func (l *live) finish(to Sink) { l.withdrawAll("the frames ended", to) }

// settled hears of a settled swing: it knows which hand holds the racket.
func (l *live) settled(s *measure.Sheet) {
	if s != nil && l.hand == body.HandUnknown && s.StrokeConfidence > 0.8 {
		l.hand = s.Hand
	}
}
