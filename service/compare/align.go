package compare

import (
	"math"
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
// warning, s: MAX_LAG and RACKET_LOW pass each other lightly. Our choice.
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
	sort.Slice(others, func(i, j int) bool { return others[i].ref < others[j].ref })
	return a.spread(others)
}

func finiteOr(x, otherwise float64) float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return otherwise
	}
	return x
}

// spread adds knots outward from contact, each beyond the last on both sides.
func (a alignment) spread(others []knot) (alignment, bool) {
	before, after := a.knots, a.knots
	swapped := false
	first := sort.Search(len(others), func(i int) bool { return others[i].ref >= 0 })
	for i := first - 1; i >= 0; i-- {
		if k, last := others[i], before[len(before)-1]; k.ref < last.ref-minGap && k.cand < last.cand-minGap {
			before = append(before[:len(before):len(before)], k)
		} else if k.cand > last.cand+swapGap {
			swapped = true
		}
	}
	for _, k := range others[first:] {
		if last := after[len(after)-1]; k.ref > last.ref+minGap && k.cand > last.cand+minGap {
			after = append(after[:len(after):len(after)], k)
		} else if k.cand < last.cand-swapGap {
			swapped = true
		}
	}
	knots := make([]knot, 0, len(before)+len(after))
	for i := len(before) - 1; i > 0; i-- {
		knots = append(knots, before[i])
	}
	return alignment{append(knots, after...)}, swapped
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
// more than its error tells; as a knot it would then shear the curves. A knot
// stays only when the tip and the hand lie closer together between its
// neighbours with it than without it. Contact and the ends always stay.
func (a alignment) prune(r, c *curves) alignment {
	for i := len(a.knots) - 2; i > 0; i-- {
		if a.knots[i].ref == 0 {
			continue
		}
		without := alignment{append(append([]knot(nil), a.knots[:i]...), a.knots[i+1:]...)}
		from, to := a.knots[i-1].ref, a.knots[i+1].ref
		if without.apart(r, c, from, to) < a.apart(r, c, from, to) {
			a = without
		}
	}
	return a
}

// apart returns the mean distance of the courses of tip and hand between two
// reference times; NaN where neither is known.
func (a alignment) apart(r, c *curves, from, to float64) float64 {
	sum, n := 0.0, 0.0
	for k := range pruneSteps {
		t := from + (to-from)*(float64(k)+.5)/pruneSteps
		u, _ := a.at(t)
		for _, name := range []string{"tip", "hand", "grip"} {
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
