package compare

import (
	"errors"
	"math"
	"slices"
	"sort"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// Swings compares two analysed swings; traces may be left out, which leaves
// the curves out. It fails on unfit options and on an absent sheet, and
// changes neither sheet.
func Swings(reference, candidate *measure.Sheet, opt Options) (Result, error) {
	if err := opt.Validate(); err != nil {
		return Result{}, err
	}
	if reference == nil || candidate == nil {
		return Result{}, errors.New("a comparison needs two swings")
	}
	reference, candidate = inRealTime(reference), inRealTime(candidate)
	c := newContest(reference, candidate, opt)
	unlike := conditions(c)
	figures := c.figures(unlike)
	a, swapped := align(reference, candidate)
	r, k := newCurves(reference, scale{factor: 1}), newCurves(candidate, c.scale)
	if r != nil && k != nil {
		a = a.prune(r, k)
	}
	a = a.even()
	gaps, warnings := c.gaps(r, k, a, unlike)

	result := Result{Warnings: c.warnings(unlike, swapped, warnings), Alignment: a.pairs()}
	verdicts := judge(append(claimsOf(figures), curveClaims(gaps)...), opt.FalseDiscovery)
	result.Differences = c.differences(figures, verdicts[:len(figures)], len(verdicts))
	result.Curves = curveDifferences(gaps, verdicts[len(figures):])
	result.Summary = c.summary(result, opt.FalseDiscovery)
	return result, nil
}

// inRealTime returns the sheet with its events and phases in real seconds, as traces
// are; events come on the clip's clock, which runs SlowMotion times as long.
func inRealTime(s *measure.Sheet) *measure.Sheet {
	slow := s.Capture.SlowMotion
	if !(slow > 0) || slow == 1 || math.IsInf(slow, 0) {
		return s
	}
	own := *s
	own.Events, own.Phases = slices.Clone(s.Events), slices.Clone(s.Phases)
	for i := range own.Events {
		own.Events[i].Time /= slow
		own.Events[i].SD /= slow
	}
	for i := range own.Phases {
		own.Phases[i].Start /= slow
		own.Phases[i].End /= slow
	}
	return &own
}

func (c *contest) warnings(unlike []condition, swapped bool, more []measure.Warning) []measure.Warning {
	var out []measure.Warning
	for _, u := range unlike {
		out = append(out, u.warning)
	}
	if swapped {
		out = append(out, c.say.warn("event_order_differs"))
	}
	return append(out, more...)
}

// pair is one figure of both sides on its way to a verdict.
type pair struct {
	name   string
	trait  trait
	effect effect
	claim  claim
}

func (c *contest) figures(unlike []condition) []pair {
	var out []pair
	for _, name := range c.names() {
		ref, cand := c.values(name)
		t := lookup(name, c.unit(name))
		e := on(unlike, name, ref)
		d, sd, ok := c.difference(name)
		cl := claim{d: absent, sd: absent, margin: Margin(name, c.unit(name), ref), allowance: e.allowance, tests: 1, blind: e.blind, z: absent}
		if ok {
			cl.d, cl.sd, cl.freedom = d, sd*e.inflate, c.freedom(name)
		} else if c.sameUnit(name) {
			cl.d = cand - ref
		}
		out = append(out, pair{name, t, e, cl})
	}
	return out
}

func (c *contest) freedom(name string) float64 {
	a, _ := figureSD(c.refFigures[name])
	b, _ := figureSD(c.candFigures[name])
	return freedom(a, b)
}

func (c *contest) unit(name string) string {
	if f, ok := c.refFigures[name]; ok && f.Unit != "" {
		return f.Unit
	}
	return c.candFigures[name].Unit
}

func (c *contest) sameUnit(name string) bool {
	return c.refFigures[name].Unit == c.candFigures[name].Unit
}

func claimsOf(pairs []pair) []claim {
	out := make([]claim, len(pairs))
	for i, p := range pairs {
		out[i] = p.claim
	}
	return out
}

// differences turns pairs and verdicts into what the result tells.
func (c *contest) differences(pairs []pair, verdicts []Verdict, comparisons int) []Difference {
	out := make([]Difference, len(pairs))
	for i, p := range pairs {
		ref, cand := c.values(p.name)
		d := Difference{Measure: p.name, Phase: p.trait.kind, Reference: ref, Candidate: cand,
			Difference: p.claim.d, SD: p.claim.sd, Unit: c.unit(p.name), Verdict: verdicts[i]}
		d.Weight = weightOf(d.Verdict, Matters(p.name, c.ref.Stroke), math.Abs(d.Difference)/p.claim.margin)
		d.Reason = c.reason(d, p, comparisons)
		d.Text = c.sentence(d, p.trait)
		out[i] = d
	}
	underCauses(out, func(d Difference) float64 { return Margin(d.Measure, d.Unit, d.Reference) })
	sortHeaviest(out)
	return out
}

func (c *contest) reason(d Difference, p pair, comparisons int) string {
	if d.Verdict != CannotTell {
		return p.effect.reason
	}
	if !p.claim.blind && !p.claim.testable() {
		return c.missing(c.refFigures[p.name], c.candFigures[p.name])
	}
	return c.why(p.claim, p.effect, d.Unit, comparisons)
}

// curveGap is one curve of both sides on its way to a verdict.
type curveGap struct {
	gap
	effect effect
}

// gaps subtracts every curve that both traces hold, by name.
func (c *contest) gaps(r, k *curves, a alignment, unlike []condition) ([]curveGap, []measure.Warning) {
	if r == nil || k == nil {
		return nil, []measure.Warning{c.say.warn("no_trace")}
	}
	var out []curveGap
	for _, name := range r.names() {
		if _, ok := k.series[name]; !ok {
			continue
		}
		e := on(unlike, name, 0)
		if g, ok := subtract(r, k, name, a, e, c.swing()); ok {
			out = append(out, curveGap{g, e})
		}
	}
	return out, c.elastic(r, k, a)
}

// stretch is a stretch of reference time, seconds from contact.
type stretch struct{ from, to float64 }

// swing returns where the reference's swing begins and ends: from the turn, or a
// serve's toss, to the end of the follow-through. How a player waits and walks off is no
// part of it, and no event aligns it. Without such an event the trace's end stands.
func (c *contest) swing() stretch {
	s := stretch{math.Inf(-1), math.Inf(1)}
	contact, ok := c.ref.Event(phase.Contact)
	if !ok {
		return s
	}
	if e, ok := c.ref.Event(phase.TurnStart); ok {
		s.from = e.Time - contact.Time
	}
	if e, ok := c.ref.Event(phase.BallRelease); ok && !math.IsInf(s.from, 0) {
		s.from = math.Min(s.from, e.Time-contact.Time)
	}
	if e, ok := c.ref.Event(phase.FollowEnd); ok {
		s.to = e.Time - contact.Time
	}
	if !(s.from < 0) {
		s.from = math.Inf(-1)
	}
	if !(s.to > 0) {
		s.to = math.Inf(1)
	}
	return s
}

func (c *curves) names() []string {
	var out []string
	for name := range c.series {
		out = append(out, name)
	}
	sort.Strings(out)
	return out
}

func curveClaims(gaps []curveGap) []claim {
	out := make([]claim, len(gaps))
	for i, g := range gaps {
		out[i] = g.claim(g.effect)
	}
	return out
}

func curveDifferences(gaps []curveGap, verdicts []Verdict) []CurveDifference {
	out := make([]CurveDifference, len(gaps))
	rank := make(map[string]float64, len(gaps))
	for i, g := range gaps {
		out[i] = CurveDifference{g.name, g.rms, g.largest, g.largestAt, g.unit, verdicts[i]}
		rank[g.name] = weightOf(verdicts[i], 1, g.rms/curveMargin(g.unit, g.level))
	}
	sort.SliceStable(out, func(i, j int) bool { return rank[out[i].Series] > rank[out[j].Series] })
	return out
}
