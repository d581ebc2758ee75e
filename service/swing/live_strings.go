package swing

import (
	"math"

	"example.com/courtkin/service/phase"
)

// A ball that is hit along the line of sight shows in its flight too late or never, but it is on the
// strings then (see met.go). Where the racket swings as it is there, and neither the ball's flight
// nor the racket's loss of speed has told the contact by the time that three frames at 60 Hz are in, it
// is called there.
const (
	// stringsAfter is how long, s, the flight is given to tell it, stringsUntil how late it is
	// called at most: what swings only then did not as the ball was there. stringsFor is how far
	// back the ball is looked for on the strings.
	stringsAfter, stringsUntil, stringsFor = 0.045, 0.075, 0.10

	// stringsOdds is the least of twice the log-odds that it was there in a stroke, as weighed by
	// met.go, before a racket that swings forward, and stringsSlow the same where hand and racket
	// are too slow to say so.
	stringsOdds, stringsSlow = 2.0, 4.0

	// stringsTie is by how much noise makes the odds of two frames differ.
	stringsTie = 2.0

	// stringsSD is the sd of a contact that is told so, s: a frame at 60 Hz, and what the ball
	// goes with the strings (TestSurveyCalls).
	stringsSD = 0.020
)

// onStrings is how surely a ball was on the strings of a racket that moves, as twice the log-odds.
type onStrings struct {
	us   int64
	odds float64
}

// seeStrings weighs at a frame whether the ball is on the strings.
func (l *live) seeStrings(k uint64) {
	if !l.tip.known() {
		return
	}
	back, ok := l.onBall()
	near := math.Inf(1)
	if ok {
		near = l.view.ballOnHead(k)
	}
	if back(); math.IsInf(near, 1) {
		return
	}
	fast := math.Min(1, l.tip.v.Norm()/thresholds.tipHit*l.speed/thresholds.handHit)
	l.strings[l.stringsN%uint64(len(l.strings))] = onStrings{l.us, 4 * math.Log(headMet/math.Max(near, passNear)*fast)}
	l.stringsN++
}

// surest returns the place of late, among the frames that show the ball and the racket's head, at which
// the ball was most surely on the strings: the first of those that noise does not tell apart.
func (l *live) surest() (best onStrings) {
	best.odds = math.Inf(-1)
	n := uint64(len(l.strings))
	for i := l.stringsN - min(n, l.stringsN); i < l.stringsN; i++ {
		if s := l.strings[i%n]; l.view.seconds(s.us, l.us) <= stringsFor && s.odds > best.odds {
			if s.odds <= best.odds+stringsTie {
				s.us = best.us
			}
			best = s
		}
	}
	return best
}

// meetsBall calls CONTACT where a ball was on the strings, as surely as least asks, and nothing has
// told a contact since.
func (l *live) meetsBall(least float64, to Sink) bool {
	v := &l.view
	if c := &l.called[phase.Contact]; c.on && v.seconds(c.us, l.us) < followFor {
		return false
	}
	best := l.surest()
	if ago := v.seconds(best.us, l.us); best.odds < least || ago < stringsAfter || ago > stringsUntil {
		return false
	}
	l.telling = true
	l.call(phase.Contact, best.us, stringsSD/l.ease(), "the ball was on the strings of a racket at %.1f m/s", l.quickTip, to)
	l.telling = false
	l.enter(phase.FollowThrough)
	return true
}

// meetsSlowly does the same of a hand that is too slow for its swing to be seen to begin, as that
// of a short volley is, if it comes out of a wound chest.
func (l *live) meetsSlowly(k uint64, to Sink) bool {
	return !l.following() && l.quickTip >= contactTip/2 && l.wound(k) && l.meetsBall(stringsSlow, to)
}
