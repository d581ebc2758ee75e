package swing

import (
	"math"

	"example.com/courtkin/service/phase"
)

// seeContact calls CONTACT from the racket's loss of speed or, without a
// racket, the hand's; the ball (seeBall) may call it first.
func (l *live) seeContact(k uint64, to Sink) {
	l.topTurn = math.Max(l.topTurn, math.Abs(l.rate))
	if l.swings() && l.meetsBall(stringsOdds, to) {
		return
	}
	if l.tip.known() && l.view.seconds(l.tipUS, l.us) < 0.05 {
		l.contactByTip(to)
	} else {
		l.contactByHand(to)
	}
	if l.phase != phase.ForwardSwing {
		return
	}
	l.topHand = math.Max(l.topHand, l.speed)
	if l.view.seconds(l.since, l.us) > forwardWait || l.speed < 0.5*l.topHand && l.topTip == 0 {
		l.withdraw(phase.ForwardStart, "the swing was pulled back", to)
		l.enter(phase.TakeBack)
	}
}

func (l *live) contactByTip(to Sink) {
	if l.tipUS != l.us {
		return
	}
	v := l.tip.v.Norm()
	if v > l.topTip {
		l.topTip, l.topUS, l.under = v, l.us, 0
		return
	}
	if v < tipLoss*l.topTip {
		l.under++
	}
	says := l.ballSays()
	if l.under >= 2 && (!l.struckAlone() || says == ballElsewhere) {
		l.topTip, l.topUS, l.under = v, l.us, 0
		return
	}
	if l.under >= 2 && l.topTip >= contactTip && says == ballSilent {
		dt := l.view.seconds(l.was, l.us)
		sd := tipContactSD
		if !l.tipWorld {
			sd = flatContactSD
		}
		l.call(phase.Contact, l.topUS, math.Max(sd, 0.6*dt), "the racket lost speed from %.1f m/s", l.topTip, to)
		l.enter(phase.FollowThrough)
	}
}

// struckAlone reports whether the racket's loss of speed can be a contact without a
// ball that says so: the hand moved it, and the chest turned. At the bottom of the
// take-back's loop the racket is as fast, round a hand that hardly moves.
func (l *live) struckAlone() bool {
	if !l.view.world {
		return l.quickHand >= flatHand
	}
	return l.quickHand >= forwardHand && l.topTurn >= contactTurn
}

func (l *live) contactByHand(to Sink) {
	if l.speed >= l.topHand {
		l.topUS, l.under = l.us, 0
		return
	}
	if l.speed < handLoss*l.topHand {
		l.under++
	}
	if l.det.bodyAlone() {
		return // see hearEarly
	}
	turned := l.topTurn >= contactTurn || !l.view.world
	if l.under >= 2 && l.topHand >= contactHand && turned && l.ballSays() == ballSilent {
		l.call(phase.Contact, l.topUS, handContactSD, "the hand slows from %.1f m/s", l.topHand, to)
		l.enter(phase.FollowThrough)
	}
}

// swings reports whether hand and racket go forward out of a wound chest: a ball that turns
// upward at such a racket was hit up, and did not bounce. What one of the two lacks, to a half,
// the other makes up: an image may look along either.
func (l *live) swings() bool {
	fast := l.quickTip >= contactTip/2 && l.quickHand >= flatHand/2 && l.quickTip*l.quickHand >= contactTip*flatHand
	return fast && (l.phase == phase.ForwardSwing || l.wound(l.view.ring.next-1))
}

// swingsSlowed reports the same of a clip that may be slowed, four times at least: its speeds are
// as many times those that show, and whether the chest was wound up the slow lanes tell, in
// whose time the wind-up is not over before it is looked for.
func (l *live) swingsSlowed() bool {
	tip, hand := l.quickTip/openEase, l.quickHand/openEase
	return tip >= contactTip/2 && hand >= flatHand/2 && tip*hand >= contactTip*flatHand && l.lanes.unwind()
}

// swingsHard reports the same of a hand and a racket that are fast enough to tell a contact by
// themselves; back undoes the ball's view.
func (l *live) swingsHard(back func()) bool {
	ball := l.view.world
	defer func() { l.view.world = ball }()
	back()
	return l.quickTip*l.quickHand >= contactTip*contactHand && l.quickTip >= thresholds.tipHit && l.quickHand >= flatHand &&
		l.wound(l.view.ring.next-1)
}
