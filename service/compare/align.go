package compare

import (
	"math"
	"slices"
	"sort"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/signal"
)

// knot is a common event, seconds from contact on both sides, with the
// standard deviation of the pair.
type knot struct{ ref, cand, sd float64 }

// course of time: knots rising on both sides; the map is linear between them
// and keeps its pace beyond the outermost.
type alignment struct{ knots []knot }

// minGap keeps knots apart, s: closer ones would make the map's slope a matter
// of noise. Half a frame at 120 Hz.
const minGap = 0.004

// swapGap is how far events must stand in the other order to be worth a
// warning beyond its error, s: MAX_LAG and RACKET_LOW pass each other lightly. Our
// choice.
const swapGap = 0.040

// align finds the common events of both swings. swapped tells that some stood
// in another order and were passed over. Without a contact on both sides only
// the traces' own zero is common.
func align(ref, cand *measure.Sheet) (a alignment, swapped bool) {
	r0, okR := ref.Event(phase.Contact)
	c0, okC := cand.Event(phase.Contact)
	a.knots = []knot{{sd: finiteOr(math.Hypot(r0.SD, c0.SD), 0)}}
	if !okR || !okC {
		return a, false
	}
	var others []knot
	for kind := phase.EventUnknown + 1; kind < phase.NumEvents; kind++ {
		r, okR := ref.Event(kind)
		c, okC := cand.Event(kind)
		k := knot{r.Time - r0.Time, c.Time - c0.Time, finiteOr(math.Hypot(r.SD, c.SD), 0)}
		if kind != phase.Contact && okR && okC && !math.IsNaN(k.ref+k.cand) && !math.IsInf(k.ref+k.cand, 0) {
			others = append(others, k)
		}
	}
	return a.admit(others)
}

func finiteOr(x, otherwise float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return otherwise
	}
	return x
}

// admit takes knots in, the surest first: one that would stand out of order among
// those before it is passed over, so that a doubtful event cannot push a sure one
// out. swapped tells that one did by more than swapGap and its own error.
func (a alignment) admit(others []knot) (alignment, bool) {
	sort.SliceStable(others, func(i, j int) bool { return others[i].sd < others[j].sd })
	swapped := false
	for _, k := range others {
		i := sort.Search(len(a.knots), func(i int) bool { return a.knots[i].ref > k.ref })
		fits, turned := true, false
		for side, n := range [2]int{i - 1, i} {
			if n < 0 || n == len(a.knots) {
				continue
			}
			dr, dc := k.ref-a.knots[n].ref, k.cand-a.knots[n].cand
			if side == 1 {
				dr, dc = -dr, -dc
			}
			fits = fits && dr > minGap && dc > minGap
			turned = turned || dc < -swapGap-z95*math.Hypot(k.sd, a.knots[n].sd)
		}
		swapped = swapped || turned
		if fits {
			a.knots = slices.Insert(slices.Clip(a.knots), i, k)
		}
	}
	return a, swapped
}

// paceSpread is how far the pace of one swing strays from the other's, s² a second:
// a fifth over stretches of some 0.3 s, q = 0.2²·0.3. Wide on purpose: it must not
// bind events that are told well. Our choice.
const paceSpread = 0.012

// even moves the knots within their errors toward an even pace and gives them the
// errors that then remain. With x the candidate's time less the reference's, the
// prior is a random walk out of contact, x_k − x_{k−1} ~ N(0, q·Δt), and the events
// are sights of it; the mean and variance are those of Rauch, Tung & Striebel 1965,
// AIAA J 3:1445. An event told to 5 ms stays where it is; one told to 0.2 s, whose
// pair would shear the curves beside it, hardly counts.
func (a alignment) even() alignment {
	at := sort.Search(len(a.knots), func(i int) bool { return a.knots[i].ref >= 0 })
	knots := slices.Clone(a.knots)
	walk(knots[at:])
	slices.Reverse(knots[:at+1])
	walk(knots[:at+1])
	slices.Reverse(knots[:at+1])
	for i := range knots {
		// Unequal errors can bring two knots out of order: the surer stays.
		if i > 0 && knots[i].cand <= knots[i-1].cand+minGap/2 {
			return a.without(worse(knots, i)).even()
		}
	}
	return alignment{knots}
}

// worse returns the less certain of two knots running; never contact.
func worse(knots []knot, i int) int {
	if knots[i].ref == 0 || knots[i-1].ref != 0 && knots[i-1].sd > knots[i].sd {
		return i - 1
	}
	return i
}

func (a alignment) without(i int) alignment {
	return alignment{slices.Delete(slices.Clone(a.knots), i, i+1)}
}

// walk estimates the offsets of knots that go out from contact, which is the first
// and stays.
func walk(knots []knot) {
	n := len(knots)
	x, v := make([]float64, n), make([]float64, n) // after each sight
	var before []float64                           // variance before it
	before = append(before, 0)
	v[0] = sq(knots[0].sd)
	for i := 1; i < n; i++ {
		k := &knots[i]
		p := v[i-1] + paceSpread*math.Abs(k.ref-knots[i-1].ref)
		gain := p / (p + sq(k.sd))
		x[i] = x[i-1] + gain*(k.cand-k.ref-x[i-1])
		v[i] = (1 - gain) * p
		before = append(before, p)
	}
	for i := n - 2; i > 0; i-- {
		back := v[i] / before[i+1]
		x[i] += back * (x[i+1] - x[i])
		v[i] += sq(back) * (v[i+1] - before[i+1])
	}
	for i := 1; i < n; i++ {
		knots[i].cand, knots[i].sd = knots[i].ref+x[i], math.Sqrt(math.Max(0, v[i]))
	}
}

// at returns the candidate's time for a reference time, with its error, s.
func (a alignment) at(t float64) (cand, sd float64) {
	n := len(a.knots)
	i := sort.Search(n, func(i int) bool { return a.knots[i].ref >= t })
	switch {
	case i == 0:
		return a.knots[0].cand + t - a.knots[0].ref, a.knots[0].sd
	case i == n:
		return a.knots[n-1].cand + t - a.knots[n-1].ref, a.knots[n-1].sd
	}
	p, q := a.knots[i-1], a.knots[i]
	w := (t - p.ref) / (q.ref - p.ref)
	return p.cand + w*(q.cand-p.cand), p.sd + w*(q.sd-p.sd)
}

// pairs returns the knots as the result tells them.
func (a alignment) pairs() []TimePair {
	out := make([]TimePair, len(a.knots))
	for i, k := range a.knots {
		out[i] = TimePair{k.ref, k.cand}
	}
	return out
}

// pruneSteps is the grid on which a knot is tried.
const pruneSteps = 24

// prune drops knots that push the two courses apart. An event that is an
// extremum of something flat (MAX_LAG, TURN_COMPLETE) wanders along the flat by
// more than its error tells, and one found in the wrong place (BALL_RELEASE) has no
// error that tells it; as a knot it would then shear the curves. A knot stays only
// when the courses of racket and wrists lie closer together between its neighbours
// with it than without it; the outermost ones are tried as far as the traces reach.
// Contact always stays.
func (a alignment) prune(r, c *curves) alignment {
	for dropped := true; dropped; {
		dropped = false
		for i := len(a.knots) - 1; i >= 0; i-- {
			if a.knots[i].ref == 0 {
				continue
			}
			from, to := r.times[0], r.times[len(r.times)-1]
			if i > 0 {
				from = a.knots[i-1].ref
			}
			if i < len(a.knots)-1 {
				to = a.knots[i+1].ref
			}
			if without := a.without(i); without.even().apart(r, c, from, to) < a.even().apart(r, c, from, to) {
				a, dropped = without, true
			}
		}
	}
	return a
}

// judges are the points whose courses say whether a knot is in its place.
var judges = []string{"tip", "hand", "grip", "left_wrist", "right_wrist"}

// apart returns the mean distance of the judges' courses between two reference
// times; NaN where none is known.
func (a alignment) apart(r, c *curves, from, to float64) float64 {
	sum, n := 0.0, 0.0
	for k := range pruneSteps {
		t := from + (to-from)*(float64(k)+.5)/pruneSteps
		u, _ := a.at(t)
		for _, name := range judges {
			if d := distance(r.point(name, t), c.point(name, u)); !math.IsNaN(d) {
				sum, n = sum+d, n+1
			}
		}
	}
	return sum / n
}

// Elastic check: each phase is laid on a grid of elasticSteps and warped. The
// linear map is in doubt where the elastic path strays from it by more than
// elasticShare of the phase on average, and thereby takes off more than half of
// a distance that is worth speaking of (elasticDistance, m). Our choice.
const (
	elasticSteps    = 40
	elasticShare    = 0.15
	elasticDistance = 0.05
	eventErrors     = 3 // a stray within so many errors of the events is theirs
)

var phaseNames = map[phase.Kind]string{phase.TakeBack: "take_back", phase.Drop: "drop", phase.ForwardSwing: "forward_swing", phase.FollowThrough: "follow_through"}

// elastic warns of phases in which elastic alignment of the grip's course
// disagrees with the linear one.
func (c *contest) elastic(r, k *curves, al alignment) []measure.Warning {
	var warnings []measure.Warning
	for _, kind := range []phase.Kind{phase.TakeBack, phase.Drop, phase.ForwardSwing, phase.FollowThrough} {
		a := r.course(c.ref, kind)
		b := k.course(c.cand, kind)
		if a == nil || b == nil {
			continue
		}
		if stray := strays(a, b); stray > math.Max(elasticShare, eventErrors*al.blur(c.ref, kind)) {
			warnings = append(warnings, c.say.warn("elastic_alignment_disagrees", c.say.tell(phaseNames[kind]), 100*stray))
		}
	}
	return warnings
}

// blur returns the error of the alignment in the middle of a phase, as a share of it.
func (a alignment) blur(s *measure.Sheet, kind phase.Kind) float64 {
	contact, _ := s.Event(phase.Contact)
	for _, p := range s.Phases {
		if p.Kind == kind && p.End > p.Start {
			_, sd := a.at((p.Start+p.End)/2 - contact.Time)
			return sd / (p.End - p.Start)
		}
	}
	return 0
}

// strays returns the mean distance of the elastic path from the diagonal, as a
// share of the phase; 0 where warping gains too little to matter.
func strays(a, b [][3]float64) float64 {
	n := len(a)
	cost := func(i, j int) float64 {
		return math.Sqrt(sq(a[i][0]-b[j][0]) + sq(a[i][1]-b[j][1]) + sq(a[i][2]-b[j][2]))
	}
	linear := 0.0
	for i := range n {
		linear += cost(i, i) / float64(n)
	}
	w := signal.Warp(n, n, 2, -1, cost)
	if len(w.Path) == 0 || linear < elasticDistance {
		return 0
	}
	stray, warped := 0.0, 0.0
	for _, p := range w.Path {
		stray += math.Abs(float64(p.I-p.J)) / float64(n)
		warped += cost(p.I, p.J)
	}
	if warped/float64(len(w.Path)) > linear/2 {
		return 0
	}
	return stray / float64(len(w.Path))
}

func sq(x float64) float64 { return x * x }
