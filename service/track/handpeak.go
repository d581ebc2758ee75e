package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Without racket and ball, or without a ball in one camera, only the hands tell of impact. Their own break is
// small against noise and against the swing's sharp turns, so they are believed
// little; what is known is that a hand is fastest about when the ball is struck
// and, over the head, highest.
const (
	// handLead is how long after the hand's fastest instant impact comes, and
	// handLeadSD its spread among strokes, seconds: made strokes 0–20 ms after, with
	// a tail of two-handed and one-handed backhands; recorded serves have the wrist at its
	// highest up to 0.14 s before its fastest.
	handLead   = 0.008
	handLeadSD = 0.030
	// topLead is how long before the hand's highest instant a serve or smash is hit,
	// and topLeadSD its spread, seconds: made ones −5 … 35 ms, those of a second simulator 7;
	// recorded servers' wrists are fastest on their way up and again on their way down, so that
	// the fastest instant says little.
	topLead   = 0.008
	topLeadSD = 0.022
	// aheadLead is how long after the hand goes forward fastest, in the direction of
	// play, impact comes, and aheadLeadSD the spread: made ground strokes and volleys 11 ± 25 ms,
	// those of a second simulator, whose arms have slowed down more by then, 50 to 60 ± 35, of a third
	// 24 to 33 ± 18 ms; forehands, volleys of that side and two-handers some 20 ms less than backhands of one hand,
	// while a one-hander's hand is fastest of all some 70 ms after impact, sideways and up;
	// a direction that is 10° wrong shifts it by 7 ms.
	aheadLead   = 0.026
	aheadLeadSD = 0.030
	// The player waits, facing the net, between these before the guess of
	// impact, for waitLeast at least; seconds.
	waitFrom, waitTo, waitLeast = 2.3, 1.1, 0.25
	// overhead is how high over the hips a hand that hits over the head reaches at
	// least, metres: a little over the shoulders of a tall player, whom a child's
	// stretched arm reaches, too.
	overhead = 0.68
	// overFastest is how high it is at least where it is fastest, 0.03–0.06 s before
	// its top; a ground stroke's hand is at 0.5 at most, though it may finish over the head.
	overFastest = 0.60
	// topBefore and topAfter are how far from its fastest instant a hand's top is looked
	// for, seconds: a recorded server's wrist may be fastest on the way down, 0.15 s after its top.
	topBefore, topAfter = 0.18, 0.16
	// overBefore is how high over the hips a hand's top is at least, metres, that it falls
	// from to where it is fastest: recorded servers 0.83 and up. A ground stroke's hand has long
	// come down from its take-back.
	overBefore = 0.75
	// aheadShare is the least share of a hand's highest speed that goes forward where it goes
	// forward fastest, for the direction to be believed: made ground strokes 0.7 and up. The
	// chest of a player who waits need not face the net.
	aheadShare = 0.6
	// handTrust is the power to which the evidence of the wrists' break is taken.
	handTrust = 0.15
)

// bodyOnly reports whether neither racket nor ball was seen.
func (m *scene) bodyOnly() bool {
	return len(m.sights[body.RacketTip]) < 8 && len(m.sights[body.RacketButt]) < 8 && len(m.sights[body.Ball]) < 6
}

// ballAway reports whether no ball was seen about the guess. One camera's racket tells little of
// impact then: its loss of speed is as small as that of any sharp turn along the line of sight.
func (m *scene) ballAway() bool {
	return len(within(m.sights[body.Ball], m.w.Guess-contactReach, m.w.Guess+contactReach)) < leastBall
}

// leastBall is the least number of sights that tell where a ball turned.
const leastBall = 4

// A hand that is aloft metres over the hips and falls with more than dropping of
// its speed has hit already, or is a server's support arm being tucked in, which
// may be the faster one: a hand meets the ball going forward or up.
const aloft, dropping = 0.45, 0.80

// wristOf is the wrist of the hand that holds the racket.
var wristOf = map[body.Hand]body.Point{body.LeftHanded: body.LeftWrist, body.RightHanded: body.RightWrist}

// handPeak returns when the ball was struck as the hitting wrist tells it, and
// the sd of that: by its highest instant over the head, else by the instant at
// which it goes forward fastest; the guess where no wrist was followed. Where
// the setup does not say the hand, it is the one that goes over the head, else
// the faster one.
func (m *scene) handPeak() (at, sd float64) {
	g := newUniform(m.w.Guess, 0.01, 60, 40)
	from, to := g.t[0], g.t[len(g.t)-1]
	ahead, known := m.aim()
	hips := m.hipHeight(from, to)
	at, sd = m.w.Guess, m.w.GuessSD
	var hands []peak
	most := 0.0
	for _, p := range [2]body.Point{body.LeftWrist, body.RightWrist} {
		if m.w.Player.Hand != body.HandUnknown && p != wristOf[m.w.Player.Hand] {
			continue
		}
		s := within(m.places(p), from, to)
		if len(s) < 10 {
			continue
		}
		q, ok := smoothPoint(g, s, rough{level: m.rough[groupWrist].level, width: 0.2, floor: 0.2, jump: 0.05}, 3, nil)
		if !ok {
			continue
		}
		f := fastest(q, m.w.Guess, hips, func(u geom.Vec3) float64 { return u.Norm() })
		f.top, f.topAt = topOf(q, f.t)
		f.q, f.p = q, p
		if a := fastest(q, m.w.Guess, hips, ahead.u.Dot); known && a.v > aheadShare*f.v {
			f.ahead, f.goes = a.t, true
		}
		hands, most = append(hands, f), math.Max(most, f.v)
	}
	best, top, chosen := 0.0, hips+overhead, 0
	for i, f := range hands {
		fell := f.v == most && f.topAt < f.t && f.top > hips+overBefore // a server's other arm points up, too
		if (f.over || fell) && f.top > top {
			best, top, at, sd = math.Inf(1), f.top, f.topAt-topLead, topLeadSD
			chosen = i
		}
		switch {
		case f.v <= best:
		case f.goes:
			best, at, sd, chosen = f.v, f.ahead+aheadLead, aheadLeadSD, i
		default:
			best, at, sd, chosen = f.v, f.t+handLead, handLeadSD, i
		}
	}
	switch {
	case len(hands) == 0:
		return at, sd
	case hands[chosen].goes && !math.IsInf(best, 1): // over the head the ball is met less far ahead, the hand still rising
		f := &hands[chosen]
		if t, by, ok := m.byReach(f.q, f.p, ahead, f.ahead); ok {
			at, sd = joined(at, sd, t, by)
		}
	}
	if t, by, ok := m.byTrunk(hands, chosen, at, math.IsInf(best, 1)); ok {
		at, sd = joined(at, sd, t, by)
	}
	if len(hands) == 2 && !math.IsInf(best, 1) {
		sd = math.Hypot(sd, otherHand(hands[chosen], hands[1-chosen]))
	}
	return at, sd
}

// otherHand is what it adds to the sd of contact, seconds, that the other hand may be the
// hitting one: the spread of a choice between the two instants whose odds go with the
// speeds to the power handOdds.
func otherHand(hit, other peak) float64 {
	odds := math.Pow(other.v/hit.v, handOdds)
	p := odds / (1 + odds)
	return math.Sqrt(p*(1-p)) * math.Abs(hit.t-other.t)
}

// handOdds: a recorded hitting hand is 1.7 to 4 times as fast as the other one, odds of 8
// to 250 then, or both are on the racket and fastest together.
const handOdds = 4.0

// peak is the fastest instant of a hand.
type peak struct {
	t, v float64
	over bool // the hand is over the head there, about

	top, topAt float64 // m, and when: the hand's highest about there
	ahead      float64 // when it goes forward fastest …
	goes       bool    // … if that may be believed

	p body.Point // the wrist …
	q *path      // … and its path
}

// fastest returns the instant within contactReach of the guess at which a speed of
// the hand is largest, of those at which it may hit.
func fastest(q *path, guess, hips float64, speed func(geom.Vec3) float64) (f peak) {
	f.t = guess
	for i := 1; i+1 < len(q.g.t); i++ {
		t := q.g.t[i]
		u := q.mean[i+1].Sub(q.mean[i-1]).Scale(1 / (q.g.t[i+1] - q.g.t[i-1]))
		high := q.mean[i].Y-hips > aloft
		if math.Abs(t-guess) > contactReach || !q.covers(t) || high && u.Y < -dropping*u.Norm() {
			continue
		}
		if v := speed(u); v > f.v {
			f = peak{t: t, v: v, over: q.mean[i].Y-hips > overFastest}
		}
	}
	return f
}

// covers reports whether an instant lies within the path's sights.
func (p *path) covers(t float64) bool {
	return len(p.sights) > 0 && t >= p.sights[0].t && t <= p.sights[len(p.sights)-1].t
}

// topOf returns how high a hand comes about its fastest instant, and when.
func topOf(q *path, about float64) (top, when float64) {
	top, when = math.Inf(-1), about
	for i, t := range q.g.t {
		if y := q.mean[i].Y; t > about-topBefore && t < about+topAfter && q.covers(t) && y > top {
			top, when = y, t
		}
	}
	return top, when
}

// hipHeight returns the hips' mean height between two instants, metres; NaN when
// they were not seen.
func (m *scene) hipHeight(from, to float64) float64 {
	sum, n := 0.0, 0.0
	for _, p := range [2]body.Point{body.LeftHip, body.RightHip} {
		for _, s := range within(m.places(p), from, to) {
			sum += s.p.Y
			n++
		}
	}
	return sum / n
}

// tempered is a clue that is believed to a power.
type tempered struct {
	clue
	power float64
}

func (c tempered) choose(ts []float64) []float64 { return c.temper(c.clue.choose(ts)) }

func (c tempered) finer(ts []float64, at float64) []float64 { return c.temper(c.clue.finer(ts, at)) }

func (c tempered) temper(vs []float64) []float64 {
	for i := range vs {
		vs[i] *= c.power
	}
	return vs
}

// byHands returns the clues, the guess and its sd for a body alone.
func (m *scene) byHands(cs []clue) (out []clue, guess, sd float64) {
	for _, c := range cs {
		out = append(out, tempered{c, handTrust})
	}
	guess, sd = m.handPeak()
	return out, guess, sd
}
