package compare

import (
	"math"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

// contest is the pair under comparison, with its figures at hand.
type contest struct {
	ref, cand   *measure.Sheet
	refFigures  map[string]measure.Figure
	candFigures map[string]measure.Figure // lengths scaled to the reference's stature
	scale       scale
	say         *language
}

// scale takes the candidate's lengths to the reference's stature.
type scale struct {
	factor   float64 // reference stature ÷ candidate stature; 1 when not known
	relative float64 // its relative standard deviation
	known    bool
}

// statureSD is the error of a stature that a person states, m: shoes and
// rounding. Our choice.
const statureSD = 0.01

// lengthsSD is the error of a ratio of two statures that were both had from the
// lengths of the body, as a share: the table of segments and the player's own
// proportions are then on both sides and cancel; what the joint centres of one
// estimator leave (3–5 cm of 1.3 m, most of it the same each time: Needham et al. 2021)
// stays. Our choice.
const lengthsSD = 0.01

// statureOf returns the stature of a player and its standard deviation, m.
func statureOf(p body.Player, figures map[string]measure.Figure) (stature, sd float64, ok bool) {
	if p.Stature > 0 {
		return p.Stature, statureSD, true
	}
	f, ok := figures[measure.Stature]
	if !ok || !f.Known() || !(f.Value > 0) {
		return 0, 0, false
	}
	return f.Value, f.SD, f.SD >= 0 && !math.IsInf(f.SD, 0)
}

func scaleOf(c *contest, opt Options) scale {
	r, sr, okR := statureOf(opt.Reference, c.refFigures)
	k, sk, okC := statureOf(opt.Candidate, c.candFigures)
	if !okR || !okC {
		return scale{factor: 1}
	}
	s := scale{factor: r / k, relative: math.Hypot(sr/r, sk/k), known: true}
	if table := measure.StatureShare; math.Min(sr/r, sk/k) >= table {
		s.relative = math.Hypot(math.Sqrt(sq(s.relative)-2*sq(table)), lengthsSD)
	}
	return s
}

// apply scales a length; other figures stay as they are.
//
//	x' = k·x,  σ'² = (k·σ)² + (x'·ρ)²,  k the factor, ρ its relative error
func (s scale) apply(f measure.Figure) measure.Figure {
	if f.Unit != "m" || f.Name == measure.Stature || !f.Known() || !s.known {
		return f
	}
	f.Value *= s.factor
	f.Low *= s.factor
	f.High *= s.factor
	f.SD = math.Hypot(f.SD*s.factor, f.Value*s.relative)
	return f
}

// newContest indexes the figures of both sides.
func newContest(ref, cand *measure.Sheet, opt Options) *contest {
	c := &contest{ref: ref, cand: cand, refFigures: index(ref.Figures), candFigures: index(cand.Figures), say: languageOf(opt.Locale)}
	c.scale = scaleOf(c, opt)
	for name, f := range c.candFigures {
		c.candFigures[name] = c.scale.apply(f)
	}
	return c
}

// index maps figures by name; the first of a name counts.
func index(figures []measure.Figure) map[string]measure.Figure {
	m := make(map[string]measure.Figure, len(figures))
	for _, f := range figures {
		if _, ok := m[f.Name]; !ok {
			m[f.Name] = f
		}
	}
	return m
}

// names lists what either side holds: the catalog's measures in their order,
// then the others by name.
func (c *contest) names() []string {
	var known, other []string
	for _, t := range traits {
		if c.holds(t.name) {
			known = append(known, t.name)
		}
	}
	for _, m := range []map[string]measure.Figure{c.refFigures, c.candFigures} {
		for name := range m {
			if _, ok := traitOf[name]; !ok && name != measure.Stature {
				other = append(other, name)
			}
		}
	}
	sort.Strings(other)
	return append(known, unique(other)...)
}

func (c *contest) holds(name string) bool {
	_, a := c.refFigures[name]
	_, b := c.candFigures[name]
	return a || b
}

// unique drops repeats from a sorted list.
func unique(sorted []string) []string {
	var out []string
	for i, s := range sorted {
		if i == 0 || s != sorted[i-1] {
			out = append(out, s)
		}
	}
	return out
}

// values returns the figure of both sides; NaN where there is none.
func (c *contest) values(name string) (ref, cand float64) {
	return valueOf(c.refFigures[name]), valueOf(c.candFigures[name])
}

func valueOf(f measure.Figure) float64 {
	if !f.Known() || math.IsInf(f.Value, 0) {
		return absent
	}
	return f.Value
}

// difference returns candidate − reference of a measure with its standard
// deviation, the two sides' errors taken as independent: what both share (one
// camera's scale) cancels in truth, so the sum errs on the wide side.
func (c *contest) difference(name string) (d, sd float64, ok bool) {
	r, k := c.refFigures[name], c.candFigures[name]
	sr, okR := figureSD(r)
	sk, okK := figureSD(k)
	d = valueOf(k) - valueOf(r)
	if !okR || !okK || math.IsNaN(d) || r.Unit != k.Unit {
		return absent, absent, false
	}
	return d, math.Hypot(sr, sk), true
}

// z95 is the 97.5 % point of the normal distribution.
const z95 = 1.959964

// floorShare keeps the error of a figure at or above this share of the margin
// that matters: an ensemble whose members all agree has shown no error, which
// is not the same as having none. Our choice.
const floorShare = 0.02

// figureSD returns the standard deviation of a figure: the stated one or that
// of the stated interval, whichever is wider.
func figureSD(f measure.Figure) (float64, bool) {
	if !f.Known() || !(f.SD >= 0) || math.IsInf(f.SD, 0) {
		return absent, false
	}
	sd := f.SD
	if w := (f.High - f.Low) / (2 * z95); w > sd && !math.IsInf(w, 0) {
		sd = w
	}
	return math.Max(sd, floorShare*Margin(f.Name, f.Unit, 0)), true
}
