package swing

import (
	"math"

	"example.com/courtkin/service/phase"
)

// What the detector makes of its open burst stands in for a contact that the live
// filters did not see: it looks at the same motion a tenth of a second later, from
// both sides.
const (
	// judgedAfter is how old a burst's peak must be, s, and judgedUnder to what share of
	// it the motion must have come down, before its contact is called.
	judgedAfter, judgedUnder = 0.030, 0.85

	// judgedEach is how often a burst is looked at, s: a look costs more than a frame.
	judgedEach = 0.025

	// judgedApart is how far the burst's contact must have moved, s, for another call to
	// take the place of a call of this kind.
	judgedApart = 0.060
)

// Standard deviations of contacts that the burst tells without a ball, seconds, as
// measured on made practices (TestSurveyCalls): with a racket, by the hand alone.
const judgedTipSD, judgedHandSD = 0.040, 0.060

// judged is what was called from the detector's bursts.
type judged struct {
	atUS   int64 // of the sample at which the detector was last asked
	openUS int64 // the burst that was called …
	us     int64 // … with its contact here
}

// hearBurst calls CONTACT for an open burst that passes for a swing by now, when
// no other sign told it. Where a camera shows balls, the ball must have been hit: a
// take-back passes for a swing, too, until its swing comes. judge is the machine's, which
// remembers what came before.
func (l *live) hearBurst(judge func() (j verdict, recalled bool), to Sink) {
	d := l.det
	if !d.b.on || len(d.trail) == 0 || d.b.doubted || d.b.awaits {
		return
	}
	last := &d.trail[len(d.trail)-1]
	if since := l.view.seconds(l.judged.atUS, last.timeUS); since >= 0 && since < judgedEach {
		return
	}
	if !last.ok || l.view.seconds(d.b.peakUS, last.timeUS) < judgedAfter || d.level(last) > judgedUnder*d.b.level {
		return
	}
	again := l.judged.openUS == d.b.openUS
	if c := l.called[phase.Contact]; c.on && (l.byBall || !again) && l.view.seconds(d.b.openUS, c.us) > -strikeBefore {
		return // told by the ball, or by the filters
	}
	if again && l.view.seconds(l.judged.us, d.b.peakUS) < judgedApart {
		return
	}
	l.judged.atUS = last.timeUS
	j, _ := judge()
	if c := &l.called[phase.Contact]; c.on && d.bodyAlone() && math.Abs(l.view.seconds(c.us, j.contactUS)) < earlyApart {
		return
	}
	if !j.swing || !j.ball.hit && !j.met && d.seesBall() || again && math.Abs(l.view.seconds(l.judged.us, j.contactUS)) < judgedApart {
		return
	}
	l.judged.openUS, l.judged.us = d.b.openUS, j.contactUS
	l.callJudged(&j, to)
}

// callJudged calls the contact of a verdict.
func (l *live) callJudged(j *verdict, to Sink) {
	sd, why, figure := judgedHandSD, "the burst of a hand at %.1f m/s passes for a swing", j.hand
	switch {
	case j.ball.hit && j.contactUS == j.ball.atUS:
		sd, why, figure = metSD, "the ball's velocity changed by %.1f m/s", j.ball.jump
		if j.ball.plain {
			sd = ballContactSD
		}
	case j.tip > 0:
		sd, why, figure = judgedTipSD, "the burst of a racket at %.1f m/s passes for a swing", j.tip
	}
	if !l.called[phase.ForwardStart].on {
		l.forwardBefore(j.contactUS, to)
	}
	l.telling = j.ball.hit && j.contactUS == j.ball.atUS
	l.call(phase.Contact, j.contactUS, sd, why, figure, to)
	l.telling = false
	if l.byBall = j.ball.hit; l.byBall {
		l.struckUS, l.struckSure, l.struckUp = j.contactUS, j.ball.sure, l.view.upright(j.ball.turn)
	}
	l.topHand, l.topTip = math.Max(l.topHand, j.hand), math.Max(l.topTip, j.tip)
	l.enter(phase.FollowThrough)
}
