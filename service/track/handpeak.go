package track

import (
	"example.com/courtkin/service/body"
)

// Without racket and ball only the hands tell of impact. Their own break is
// small against noise and against the swing's sharp turns, so they are believed
// little; what is known is that a hand is fastest about when the ball is struck.
const (
	// handLead is how long after the hand's fastest instant impact comes, and
	// handLeadSD its spread among strokes, seconds: made strokes 0–20 ms after, with
	// a tail of two-handed and one-handed backhands; recorded serves have the wrist at its
	// highest up to 0.14 s before its fastest.
	handLead   = 0.008
	handLeadSD = 0.030
	// handTrust is the power to which the evidence of the wrists' break is taken.
	handTrust = 0.15
)

// bodyOnly reports whether neither racket nor ball was seen.
func (m *scene) bodyOnly() bool {
	return len(m.sights[body.RacketTip]) < 8 && len(m.sights[body.RacketButt]) < 8 && len(m.sights[body.Ball]) < 6
}

// A hand that is aloft metres over the hips and falls with more than dropping of
// its speed has hit already, or is a server's support arm being tucked in, which
// may be the faster one: a hand meets the ball going forward or up.
const aloft, dropping = 0.45, 0.80

// wristOf is the wrist of the hand that holds the racket.
var wristOf = map[body.Hand]body.Point{body.LeftHanded: body.LeftWrist, body.RightHanded: body.RightWrist}

// handPeak returns the instant near the guess at which the hitting wrist is
// fastest, of those at which it may hit; the faster one's where the setup does
// not say the hand; the guess itself where no wrist was followed.
func (m *scene) handPeak() float64 {
	lo, hi := m.w.Guess-contactReach, m.w.Guess+contactReach
	best, at := 0.0, m.w.Guess
	g := newUniform(m.w.Guess, 0.01, 60, 40)
	hips := m.hipHeight(g.t[0], g.t[len(g.t)-1])
	for _, p := range [2]body.Point{body.LeftWrist, body.RightWrist} {
		if m.w.Player.Hand != body.HandUnknown && p != wristOf[m.w.Player.Hand] {
			continue
		}
		s := within(m.places(p), g.t[0], g.t[len(g.t)-1])
		if len(s) < 10 {
			continue
		}
		q, ok := smoothPoint(g, s, rough{level: m.rough[groupWrist].level, width: 0.2, floor: 0.2, jump: 0.05}, 3, nil)
		if !ok {
			continue
		}
		for i := 1; i+1 < len(g.t); i++ {
			u := q.mean[i+1].Sub(q.mean[i-1]).Scale(1 / (g.t[i+1] - g.t[i-1]))
			v := u.Norm()
			if g.t[i] > lo && g.t[i] < hi && v > best && !(q.mean[i].Y-hips > aloft && u.Y < -dropping*v) {
				best, at = v, g.t[i]
			}
		}
	}
	return at
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
	return out, m.handPeak() + handLead, handLeadSD
}
