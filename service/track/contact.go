package track

import (
	"math"

	"example.com/courtkin/service/body"
)

// When the ball met the strings. The racket, the wrists and the ball each
// break their motion at one instant; the instant that all the data support
// best is found by the evidence for a break at each candidate.

// contactReach is how far from the guess impact is sought, seconds.
const contactReach = 0.12

// contactStep is the node spacing of the local solve, seconds: finer than a
// 120 Hz frame, so that the grid never hides a break.
const contactStep = 0.008

// breaker is one point that breaks at impact, with how it moves around it.
type breaker struct {
	sights []sight
	rough  rough
}

// when is the posterior of the instant of impact.
type when struct {
	mean, sd float64
}

// findContact returns the posterior of the instant of impact around guess,
// whose own sd weighs as a prior.
func findContact(bs []breaker, guess, guessSD float64) when {
	lo, hi := guess-contactReach, guess+contactReach
	score := func(t float64) float64 {
		d := (t - guess) / guessSD
		return -0.5*d*d + breakEvidence(bs, t, lo, hi)
	}
	at := posterior(score, lo, hi, 0.006)
	if at.sd <= 0.012 {
		at = posterior(score, at.mean-3*at.sd-0.006, at.mean+3*at.sd+0.006, 0.001)
	}
	return when{at.mean - dwellLead, math.Hypot(at.sd, dwellSD)}
}

// Strings hold the ball for up to 5 ms (literature.md 4.2: 4–5 ms), and the
// motion changes over that time; the break that fits best lies at its middle,
// while contact is its beginning. The hold is taken as even over 0–5 ms: its
// half is 1.25 ms with an sd of 0.72 ms.
const (
	dwellLead = 0.00125 // s
	dwellSD   = 0.00072 // s
)

// posterior sums a log density over an even grid.
func posterior(score func(t float64) float64, lo, hi, step float64) when {
	var ts, vs []float64
	top := math.Inf(-1)
	for t := lo; t <= hi+1e-9; t += step {
		v := score(t)
		ts, vs = append(ts, t), append(vs, v)
		top = math.Max(top, v)
	}
	return moments(ts, vs, top)
}

func moments(ts, vs []float64, top float64) when {
	var w0, w1, w2 float64
	for i, v := range vs {
		p := math.Exp(v - top)
		w0 += p
		w1 += p * ts[i]
	}
	mean := w1 / w0
	for i, v := range vs {
		d := ts[i] - mean
		w2 += math.Exp(v-top) * d * d
	}
	return when{mean, math.Sqrt(w2/w0 + 0.0003*0.0003)}
}

// breakEvidence is the log evidence of all breakers for a break at t, from
// the sights inside [lo, hi] widened by the solve's margin. The grid is laid
// from t, so its shape is the same for each candidate.
func breakEvidence(bs []breaker, t, lo, hi float64) float64 {
	const margin = 0.06 // s, more data on both sides of the outermost candidates
	n := int(math.Ceil((hi - lo + margin) / contactStep))
	g := newUniform(t, contactStep, n, n)
	sum := 0.0
	for _, b := range bs {
		in := within(b.sights, lo-margin, hi+margin)
		if len(in) < 6 {
			continue
		}
		for i := range in {
			in[i].w = 1
		}
		sum += evidence(g, in, b.rough, nil)
	}
	return sum
}

// within returns the sights in [lo, hi]; they are in time order.
func within(s []sight, lo, hi float64) []sight {
	a, b := 0, len(s)
	for a < b && s[a].t < lo {
		a++
	}
	for b > a && s[b-1].t > hi {
		b--
	}
	return s[a:b]
}

// breakers lists what breaks at impact: racket points, wrists, ball.
func (m *scene) breakers() []breaker {
	var bs []breaker
	for p := range body.NumPoints {
		r, ok := impactRough(p)
		if !ok {
			continue
		}
		for _, s := range m.streams(p) {
			bs = append(bs, breaker{s.sights, r.scaled(s.scale)})
		}
	}
	return bs
}

// impactRough is the motion around impact of the points that break there.
func impactRough(p body.Point) (rough, bool) {
	switch p {
	case body.RacketTip, body.RacketThroat, body.RacketButt:
		return rough{level: roughOf[groupRacket].level, width: 1, floor: 1, jump: 6}, true
	case body.LeftWrist, body.RightWrist:
		return rough{level: roughOf[groupWrist].level, width: 1, floor: 1, jump: 0.7}, true
	case body.Ball:
		return rough{level: roughOf[groupBall].level, width: 1, floor: 1, jump: 40}, true
	}
	return rough{}, false
}
