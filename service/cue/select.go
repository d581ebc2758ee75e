package cue

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

// Select chooses what to say after one swing: at most one correction, one keep
// and one piece of capture advice, and every caution whose time has come.
//
//  1. Bandwidth: a correction or keep is a candidate only when its figure lies
//     past its band by more than its error, as its condition says; the band of
//     corrections widens as the practice goes on (slack).
//  2. Fading: corrections and keeps are spoken on every swing at first and
//     then ever less often (speaks). Cautions never fade.
//  3. Order: the weightiest candidate by chain, effect and certainty (priority).
//  4. Variety: what was said the last two times is not said a third time running.
//
// The same arguments give the same cues. A nil sheet gives none.
func (b *Book) Select(s *measure.Sheet, h History) []Cue {
	if s == nil {
		return nil
	}
	f := newFacts(s, h.Player, h.SwingsSoFar)
	var out []Cue
	if speaks(h.SwingsSoFar) {
		due := slices.DeleteFunc(b.candidates(f, s, h.Player, Correct), func(c candidate) bool { return c.excess < slack(h.SwingsSoFar) })
		out = append(out, b.best(due, Correct, h)...)
		out = append(out, b.best(b.candidates(f, s, h.Player, Keep), Keep, h)...)
	}
	for _, c := range b.met(f, s, h.Player, Capture, h.Locale) {
		if !slices.Contains(h.Recent, c.Name) {
			out = append(out, c)
			break
		}
	}
	return append(out, b.met(f, s, h.Player, Caution, h.Locale)...)
}

// speaks tells whether the swing after n others gets a correction or a keep:
// each of the first 10, every second to 40, every fifth after. Faded feedback
// does as well in practice and better in retention (Winstein & Schmidt 1990,
// J Exp Psychol LMC 16:677: 50 % on average); the steps are our choice.
func speaks(n uint32) bool {
	switch {
	case n < 10:
		return true
	case n < 40:
		return n%2 == 0
	}
	return n%5 == 0
}

// slack is how far past its band a figure may go, in noticeable steps, before a
// correction is given after n swings: bandwidth feedback, which leaves small
// errors to the player (Sherwood 1988, Percept Mot Skills 66:535; Cruz et al.
// 2018, Motricidade 14:107). That it widens, and by how much, is our choice.
func slack(n uint32) float64 {
	switch {
	case n < 10:
		return 0
	case n < 40:
		return 0.25
	}
	return 0.5
}

// candidate is a page whose condition is met.
type candidate struct {
	page       *page
	excess     float64 // past the band, in noticeable steps
	priority   float64
	confidence float64
}

// strokeNeeded is the confidence in the stroke below which nothing specific to
// a stroke is said. Our choice.
const strokeNeeded = 0.6

// candidates returns the pages of a kind that the swing calls for, weightiest
// first, ties by name.
func (b *Book) candidates(f *facts, s *measure.Sheet, p body.Player, kind Kind) []candidate {
	var out []candidate
	if !(s.StrokeConfidence >= strokeNeeded) || s.Stroke == body.StrokeUnknown {
		return nil
	}
	for i := range b.pages {
		page := &b.pages[i]
		if page.kind != kind || !page.serves(s.Stroke, p.Level) || !page.holds(f) {
			continue
		}
		if c, ok := page.weigh(f, s.StrokeConfidence); ok {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b candidate) int {
		switch {
		case a.priority > b.priority:
			return -1
		case a.priority < b.priority:
			return 1
		}
		return 0
	})
	return out
}

// chainShare is how much the place in the chain counts against the effect: the
// last link at full effect weighs as much as the first at under half. Our choice.
const chainShare = 0.6

// weigh gives a page its priority and confidence, both in [0, 1].
//
//	priority = (1 − chainShare·(1 − place)) · e/(1 + e) · confidence
//
// with e the excess in noticeable steps. ok is false when the excess is not
// above 0: nothing is said for a figure inside its band.
func (p *page) weigh(f *facts, stroke float64) (candidate, bool) {
	e := p.excess(f)
	if !(e > 0) {
		return candidate{}, false
	}
	c := p.certainty(f, e) * math.Min(1, stroke)
	place := 1 - chainShare*(1-p.place())
	return candidate{p, e, place * saturate(e) * c, c}, true
}

// Confidence in a figure by its grade, beyond what its interval says. Our choice.
const (
	goodTrust  = 1.0
	roughTrust = 0.8
)

// certainty returns the chance that the excess is truly above 0, for an excess
// that follows the leading figure linearly over its interval:
//
//	σ_e = |e(high) − e(low)| / (2·1.96),  Φ(e/σ_e)
//
// times the trust in the figure's grade.
func (p *page) certainty(f *facts, e float64) float64 {
	if len(p.measures) == 0 {
		return goodTrust
	}
	trust := goodTrust
	for _, i := range p.measures {
		if f.grades[i] == measure.Rough {
			trust = roughTrust
		}
	}
	lead := p.measures[0]
	low, high := f.with(lead, f.figures[lead][partLow]), f.with(lead, f.figures[lead][partHigh])
	spread := math.Abs(p.excess(high)-p.excess(low)) / (2 * 1.959964)
	if math.IsNaN(spread) || spread == 0 {
		return trust
	}
	return trust * 0.5 * math.Erfc(-e/spread/math.Sqrt2)
}

// with returns the facts with one measure's value replaced.
func (f *facts) with(measure int, value float64) *facts {
	g := *f
	part := f.figures[measure]
	part[partValue] = value
	g.instead, g.at = &part, measure
	return &g
}

// rest is the entry that stands in when the only thing to say was said twice running.
const rest = "play_freely"

// best returns the weightiest candidate that was not said the last two times.
// When a correction that was is all there is, the player is left to play.
func (b *Book) best(cs []candidate, kind Kind, h History) []Cue {
	banned := b.saidTwice(kind, h.Recent)
	for _, c := range cs {
		if c.page.Name != banned {
			return []Cue{c.page.cue(h.Locale, c.priority, c.confidence)}
		}
	}
	at, ok := b.byName[rest]
	if len(cs) == 0 || kind != Correct || !ok {
		return nil
	}
	c := b.pages[at].cue(h.Locale, cs[0].priority, cs[0].confidence)
	c.Evidence = slices.Clone(cs[0].page.Proof)
	return []Cue{c}
}

// saidTwice returns the name of the kind's cue that was said the last two
// times; empty when there is none. Corrections, keeps and the rest take turns
// in one list, so only names of the kind count.
func (b *Book) saidTwice(kind Kind, recent []string) string {
	last := ""
	for i := len(recent) - 1; i >= 0; i-- {
		at, ok := b.byName[recent[i]]
		if !ok || b.pages[at].kind != kind {
			continue
		}
		if last != "" {
			if recent[i] == last {
				return last
			}
			return ""
		}
		last = recent[i]
	}
	return ""
}

// met returns every page of a kind whose condition holds, in catalog order.
func (b *Book) met(f *facts, s *measure.Sheet, p body.Player, kind Kind, locale string) []Cue {
	var out []Cue
	for i := range b.pages {
		page := &b.pages[i]
		if page.kind == kind && page.serves(s.Stroke, p.Level) && page.holds(f) {
			out = append(out, page.cue(locale, 1, 1))
		}
	}
	return out
}

// Due returns every correction that one swing calls for, weightiest first,
// without fading and variety: what a summary counts.
func (b *Book) Due(s *measure.Sheet, p body.Player, locale string) []Cue {
	if s == nil {
		return nil
	}
	var out []Cue
	for _, c := range b.candidates(newFacts(s, p, 0), s, p, Correct) {
		out = append(out, c.page.cue(locale, c.priority, c.confidence))
	}
	return out
}

// CaptureAdvice returns every piece of capture advice that the sheet calls for;
// figures without a value count as not seen.
func (b *Book) CaptureAdvice(s *measure.Sheet, locale string) []Cue {
	if s == nil {
		return nil
	}
	return b.met(newFacts(s, body.Player{}, 0), s, body.Player{}, Capture, locale)
}

// maxVolume bounds the swings that Cautions walks through.
const maxVolume = 2000

// Cautions returns every caution whose time came in a practice of the given
// number of swings of one stroke (StrokeUnknown: of any), each once.
func (b *Book) Cautions(p body.Player, stroke body.Stroke, swings uint32, locale string) []Cue {
	var out []Cue
	said := map[string]bool{}
	s := &measure.Sheet{Stroke: stroke}
	f := newFacts(s, p, 0)
	for n := uint32(1); n <= min(swings, maxVolume); n++ {
		f.other["swings"] = int64(n)
		for _, c := range b.met(f, s, p, Caution, locale) {
			if !said[c.Name] {
				said[c.Name] = true
				out = append(out, c)
			}
		}
	}
	return out
}
