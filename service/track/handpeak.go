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

// handPeak returns the instant near the guess at which the faster wrist is
// fastest; the guess itself where no wrist was followed.
func (m *scene) handPeak() float64 {
	lo, hi := m.w.Guess-contactReach, m.w.Guess+contactReach
	best, at := 0.0, m.w.Guess
	g := newUniform(m.w.Guess, 0.01, 60, 40)
	for _, p := range [2]body.Point{body.LeftWrist, body.RightWrist} {
		s := within(m.places(p), g.t[0], g.t[len(g.t)-1])
		if len(s) < 10 {
			continue
		}
		q, ok := smoothPoint(g, s, rough{level: m.rough[groupWrist].level, width: 0.2, floor: 0.2, jump: 0.05}, 3, nil)
		if !ok {
			continue
		}
		for i := 1; i+1 < len(g.t); i++ {
			v := q.mean[i+1].Sub(q.mean[i-1]).Scale(1 / (g.t[i+1] - g.t[i-1])).Norm()
			if g.t[i] > lo && g.t[i] < hi && v > best {
				best, at = v, g.t[i]
			}
		}
	}
	return at
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
