package track

import (
	"cmp"
	"math"
	"slices"

	"example.com/courtkin/service/body"
)

// When the ball met the strings. The racket, the wrists and the ball each
// break their motion at one instant; the instant that all the data support
// best is found by the evidence for a break at each candidate.

// contactReach is how far from the guess impact is sought, seconds: hands are
// fastest up to 0.2 s after impact where the follow-through whips.
const contactReach = 0.24

// coarseStep is the step of the candidates, seconds: the ball's evidence has a
// peak some 20 ms wide.
const coarseStep = 0.008

// contactStep is the node spacing of the local solve, seconds: finer than a
// 120 Hz frame, so that the grid never hides a break.
const contactStep = 0.008

// when is the posterior of the instant of impact.
type when struct {
	mean, sd float64
}

// clue is anything that speaks for one instant of impact or another.
type clue interface {
	// choose settles the clue's own quantities by their support over all
	// candidates and returns the log evidence for each.
	choose(ts []float64) []float64
	// finer returns the log evidence for impact at each of ts, all of them near at.
	finer(ts []float64, at float64) []float64
}

// contactScores returns candidates for the instant of impact around guess, whose
// own sd weighs as a prior, and the log posterior of each.
func contactScores(clues []clue, guess, guessSD float64) (ts, vs []float64) {
	ts = candidates(guess)
	vs = make([]float64, len(ts))
	for i, t := range ts {
		d := (t - guess) / guessSD
		vs[i] = -0.5 * d * d
	}
	racket := 0
	for _, c := range clues {
		if b, ok := c.(*breaker); ok {
			if isWrist(b.of) {
				continue
			}
			if b.of.IsRacket() {
				racket++
			}
		}
		addTo(vs, c.choose(ts))
	}
	told := racket >= racketTells && sure(vs)
	for _, c := range clues {
		if b, ok := c.(*breaker); ok && isWrist(b.of) {
			if b.unasked = told; !told {
				addTo(vs, b.choose(ts))
			}
		}
	}
	return ts, vs
}

func isWrist(p body.Point) bool { return p == body.LeftWrist || p == body.RightWrist }

func addTo(vs, more []float64) {
	for i, v := range more {
		vs[i] += v
	}
}

// A hand loses a tenth of its speed at impact, the racket a quarter (impactRough), and a hand
// is slower: wrists are not asked where the racket's points have told.
const (
	racketTells = 2 // streams of them
	sureWithin  = 2 // steps of the candidates: a peak's own foot
)

// sure reports whether a log posterior has one peak, all else being farBelow it.
func sure(vs []float64) bool {
	top := argMax(vs)
	for i, v := range vs {
		if abs(i-top) > sureWithin && v > vs[top]-farBelow {
			return false
		}
	}
	return true
}

// candidates lists the instants at which impact is sought.
func candidates(guess float64) (ts []float64) {
	for t := guess - contactReach; t <= guess+contactReach+1e-9; t += coarseStep {
		ts = append(ts, t)
	}
	return ts
}

// settleContact narrows the posterior down.
func settleContact(clues []clue, ts, vs []float64) when {
	at := moments(ts, vs)
	if at.sd <= 0.012 {
		at = finer(clues, at)
	}
	return when{at.mean - dwellLead, math.Hypot(at.sd, dwellSD)}
}

// finer narrows a coarse posterior down on a grid of a millisecond.
func finer(clues []clue, at when) when {
	var ts []float64
	for t := at.mean - 3*at.sd - coarseStep; t <= at.mean+3*at.sd+coarseStep; t += 0.001 {
		ts = append(ts, t)
	}
	vs := make([]float64, len(ts))
	for _, c := range clues {
		for i, v := range c.finer(ts, at.mean) {
			vs[i] += v
		}
	}
	return moments(ts, vs)
}

func logSum(v []float64) float64 {
	top := math.Inf(-1)
	for _, x := range v {
		top = math.Max(top, x)
	}
	sum := 0.0
	for _, x := range v {
		sum += math.Exp(x - top)
	}
	return top + math.Log(sum)
}

// Strings hold the ball for up to 5 ms (literature.md 4.2: 4–5 ms), and the
// motion changes over that time; the break that fits best lies at its middle,
// while contact is its beginning. The hold is taken as even over 0–5 ms: its
// half is 1.25 ms with an sd of 0.72 ms.
const (
	dwellLead = 0.00125 // s
	dwellSD   = 0.00072 // s
)

// moments returns mean and sd of a density given by its logarithm on a grid.
func moments(ts, vs []float64) when {
	top := logSum(vs)
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

// clues lists what speaks for the instant of impact: racket points, wrists, ball, and
// that ball and racket are in one place.
func (m *scene) clues() (cs []clue) {
	ball, seen := m.ballSeen()
	if seen {
		cs = append(cs, ball)
	}
	if c, ok := m.meet(); ok {
		cs = append(cs, c)
	}
	for p := range body.NumPoints {
		r, ok := impactRough(p)
		if !ok || p == body.Ball && m.rig != nil || p.IsRacket() && m.oneEye() {
			continue
		}
		for _, s := range m.streams(p) {
			b := newBreaker(s.sights, r.scaled(s.scale), m.w.Guess, &m.room.follow)
			b.of = p
			cs = append(cs, b)
		}
	}
	return cs
}

// rivalInstants is how far below the best, in nats, another peak of the posterior
// may lie to be looked at again with the racket solved in depth.
const rivalInstants = 14.0

// peaks lists the candidates at which the log posterior peaks, the highest first.
func peaks(ts, vs []float64) (at []int) {
	top := logSum(vs)
	for i, v := range vs {
		if (i == 0 || v >= vs[i-1]) && (i == len(vs)-1 || v > vs[i+1]) && v > top-rivalInstants {
			at = append(at, i)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int { return cmp.Compare(vs[b], vs[a]) })
	return at
}

// askRacket adds to the log posterior of each of its peaks, and of their
// neighbours, what the racket solved in depth says of a break there: one
// camera's racket tells of impact only so. The scene must have been settled at
// some instant near.
func (m *scene) askRacket(ts, vs []float64) {
	at := peaks(ts, vs)
	if m.racket == nil || len(at) < 2 {
		return
	}
	at = at[:min(len(at), 4)]
	// All candidates are held against the same sights, on grids of the same reach.
	const step, before, after = 0.008, 0.20, 0.15
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range at {
		lo, hi = math.Min(lo, ts[i]-before), math.Max(hi, ts[i]+after)
	}
	var near []rodSight
	for _, s := range inTime(append(m.racketSights(), m.gripAnchors()...)) {
		if s.t > lo && s.t < hi {
			near = append(near, s)
		}
	}
	said := map[int]float64{}
	for _, i := range at {
		g := newUniform(ts[i], step, int((ts[i]-lo)/step)+2, int((hi-ts[i])/step)+2)
		q := m.racket.onto(g)
		q.struck = m.along(body.RacketTip)
		if settleRod(q, near, m.handRough, m.turnRough, 3) {
			said[i] = q.evidence(near)
		}
	}
	if len(said) < len(at) {
		return
	}
	for i := range vs {
		best, far := math.Inf(-1), len(ts)
		for _, k := range at {
			if d := abs(i - k); d < far {
				best, far = said[k], d
			}
		}
		vs[i] += best
	}
}

func abs(i int) int {
	if i < 0 {
		return -i
	}
	return i
}

// oneEye reports whether a single camera saw the motion: a racket's image then
// slows where the racket turns along the line of sight, and tells of impact
// only once its depth is solved.
func (m *scene) oneEye() bool { return m.rig != nil && len(m.rig.Eyes) == 1 }

// impactRough is the motion around impact of the points that break there. The
// racket's tip loses 20–30 % of its speed (literature.md 4.2), the throat less,
// the hands little; a sharp turn of the swing, which gains speed, is no impact.
func impactRough(p body.Point) (rough, bool) {
	racket := rough{level: roughOf[groupRacket].level, width: 1, floor: 1, jump: 15}
	switch p {
	case body.RacketTip:
		racket.keep, racket.kept = 0.75, 2.5
		return racket, true
	case body.RacketThroat:
		racket.keep, racket.kept = 0.8, 1.8
		return racket, true
	case body.RacketButt:
		racket.level /= 10
		racket.keep, racket.kept = 0.9, 1.2
		return racket, true
	case body.LeftWrist, body.RightWrist:
		return rough{level: roughOf[groupWrist].level, width: 1, floor: 1, jump: 4, keep: 0.92, kept: 0.7}, true
	case body.Ball:
		return rough{level: roughOf[groupBall].level, width: 1, floor: 1, jump: 60}, true
	}
	return rough{}, false
}
