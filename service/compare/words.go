package compare

import (
	"fmt"
	"math"
	"strings"

	"example.com/courtkin/service/measure"
)

// sentence says one difference as a coach would.
func (c *contest) sentence(d Difference, t trait) string {
	t = c.say.spoken(t)
	switch d.Verdict {
	case Different:
		return c.differs(d, t)
	case Same:
		return c.say.tell("same", capital(t.noun), c.say.level(d, d.Candidate), c.say.level(d, d.Reference))
	}
	return c.say.tell("cannot_tell", capital(t.noun), d.Reason)
}

func (c *contest) differs(d Difference, t trait) string {
	words := t.more
	if d.Difference < 0 {
		words = t.less
	}
	said := fmt.Sprintf(words, c.say.amount(math.Abs(d.Difference), d.Unit))
	switch d.Measure {
	case "lag.tip_path":
		if fact := c.pathAndSpeed(); fact != "" {
			return said + ": " + fact
		}
	case "lag.tip_wrap":
		if further := c.furtherToCome(d); further != "" {
			return said + further
		}
	}
	return said + c.say.tell("than") + c.opposite(d) + "."
}

// level writes a figure; where its sign says on which side of 0 something is, the side
// stands for the sign: 44° (open). The noun itself tells the usual side of most.
func (l *language) level(d Difference, x float64) string {
	side, ok := sides[d.Measure]
	told := x > 0 && d.Measure != "legs.stance" && !strings.HasPrefix(d.Measure, "posture.")
	if !ok || side.level != 0 || told {
		return l.amount(x, d.Unit)
	}
	return l.amount(math.Abs(x), d.Unit) + " (" + l.sideOf(d.Measure, x) + ")"
}

// sideOf names the side of its level on which x, counted from the level, is.
func (l *language) sideOf(measure string, x float64) string {
	side := sides[measure]
	above, below := side.above, side.below
	if l == &german {
		above, below = side.aboveDE, side.belowDE
	}
	if x > 0 {
		return above
	}
	return below
}

// sides says of which side of a level a figure is, where that is a fact of its
// own: hands jammed or free, arm straight or bent, tip below the ball or not.
// The levels of the arm are common practice, no source; the others are 0 by
// definition.
var sides = map[string]struct {
	level            float64
	above, below     string
	aboveDE, belowDE string
}{
	"spacing.clearance":           {0, "free of the body", "jammed", "frei vom Körper", "eingeklemmt"},
	"path.tip_drop":               {0, "the tip below the ball", "the tip not below the ball", "die Spitze unter dem Ball", "die Spitze nicht unter dem Ball"},
	"path.hand_drop":              {0, "the hands below the ball", "the hands not below the ball", "die Hände unter dem Ball", "die Hände nicht unter dem Ball"},
	"path.out_angle":              {0, "from inside to outside", "from outside to inside", "von innen nach außen", "von außen nach innen"},
	"path.rise_angle":             {0, "upward", "downward", "aufwärts", "abwärts"},
	"lag.tip_wrap":                {0, "past the middle of the back", "on the hitting side", "über die Rückenmitte hinaus", "auf der Schlagseite"},
	"lag.contact":                 {0, "tip behind the hand", "tip ahead of the hand", "Spitze hinter der Hand", "Spitze vor der Hand"},
	"posture.shoulder_tilt":       {0, "hitting shoulder higher", "hitting shoulder lower", "Schlagschulter höher", "Schlagschulter tiefer"},
	"turn.separation.contact":     {0, "behind the hips", "ahead of the hips", "hinter der Hüfte", "vor der Hüfte"},
	"posture.lean_side":           {0, "to the ball", "away from the ball", "zum Ball", "vom Ball weg"},
	"posture.lean_forward":        {0, "to the net", "backward", "zum Netz", "nach hinten"},
	"legs.stance":                 {0, "closed", "open", "geschlossen", "offen"},
	"elbow.hitting.contact":       {25, "bent", "straight", "gebeugt", "gestreckt"},
	"elbow.support.contact":       {25, "bent", "straight", "gebeugt", "gestreckt"},
	"elbow.hitting.forward_start": {25, "bent", "straight", "gebeugt", "gestreckt"},
	"elbow.support.forward_start": {25, "bent", "straight", "gebeugt", "gestreckt"},
}

// opposite names the sides when the two figures lie on unlike ones, each by
// more than its error.
func (c *contest) opposite(d Difference) string {
	side, ok := sides[d.Measure]
	sr, okR := figureSD(c.refFigures[d.Measure])
	sk, okC := figureSD(c.candFigures[d.Measure])
	r, k := d.Reference-side.level, d.Candidate-side.level
	if !ok || !okR || !okC || r*k >= 0 || math.Abs(r) < z95*sr || math.Abs(k) < z95*sk {
		return ""
	}
	return c.say.tell("sides", c.say.sideOf(d.Measure, k), c.say.sideOf(d.Measure, r))
}

// pathAndSpeed says what path length and time make of the mean speeds.
//
//	mean speed = path ÷ time, so the ratio of mean speeds is the ratio of paths
//	divided by the ratio of times; in equal time it is the ratio of paths alone.
//
// Empty when a figure is missing.
func (c *contest) pathAndSpeed() string {
	pr, pc := c.values("lag.tip_path")
	tr, tc := c.values("tempo.forward_swing")
	if !(pr > 0 && pc > 0 && tr > 0 && tc > 0) {
		return ""
	}
	ratio, sd := pc/pr, c.ratioSD("lag.tip_path")
	dt, st, ok := c.difference("tempo.forward_swing")
	if ok && math.Abs(dt) <= z95*st {
		return c.say.tell("equal_time",
			c.say.amount((tr+tc)/2, "s"), c.say.ratio(ratio), c.say.ratio(sd), c.say.amount(pc/tc, "m/s"), c.say.amount(pr/tr, "m/s"))
	}
	return c.say.tell("unequal_time",
		c.say.ratio(ratio), c.say.ratio(sd), c.say.ratio(tc/tr), c.say.ratio(ratio*tr/tc), c.say.amount(pc/tc, "m/s"), c.say.amount(pr/tr, "m/s"))
}

// ratioSD returns the error of candidate ÷ reference: (c/r)·√((σ_c/c)² + (σ_r/r)²).
func (c *contest) ratioSD(name string) float64 {
	r, k := c.refFigures[name], c.candFigures[name]
	sr, _ := figureSD(r)
	sk, _ := figureSD(k)
	return k.Value / r.Value * math.Hypot(sr/r.Value, sk/k.Value)
}

// furtherToCome adds what the wrap costs in path, where the path bears it out.
func (c *contest) furtherToCome(d Difference) string {
	path, sd, ok := c.difference("lag.tip_path")
	if !ok || path*d.Difference <= 0 || math.Abs(path) < z95*sd {
		return ""
	}
	if path > 0 {
		return c.say.tell("than") + c.say.tell("further", c.say.amount(path, "m"))
	}
	return c.say.tell("than") + c.say.tell("less_way", c.say.amount(-path, "m"))
}

// missing says why a figure cannot be set against the other.
func (c *contest) missing(ref, cand measure.Figure) string {
	switch {
	case !ref.Known() && !cand.Known():
		return c.say.tell("none_has") + c.say.because(cand, ref)
	case !cand.Known():
		return c.say.tell("candidate_lacks") + c.say.because(cand)
	case !ref.Known():
		return c.say.tell("reference_lacks") + c.say.because(ref)
	case ref.Unit != cand.Unit:
		return c.say.tell("unlike_units")
	}
	return c.say.tell("no_error")
}

// because tells the first reason that a figure gives: by its code where the language
// has words for it, else quoted, without its code and shortened.
func (l *language) because(figures ...measure.Figure) string {
	for _, f := range figures {
		if f.Reason == "" {
			continue
		}
		words := f.Reason
		code, rest, ok := strings.Cut(words, ": ")
		if known := l.formats[code]; strings.HasPrefix(code, "no_") && known != "" {
			words = known
		} else if ok && !strings.Contains(code, " ") {
			words = rest
		}
		return fmt.Sprintf(": %.200s.", strings.TrimSuffix(words, "."))
	}
	return "."
}

// why tells the reason of a verdict that is not plain.
func (c *contest) why(cl claim, e effect, unit string, comparisons int) string {
	d, wide := math.Abs(cl.d), z95*cl.sd
	low, high := c.say.amount(d-wide, unit), c.say.amount(d+wide, unit)
	switch {
	case e.blind:
		return e.reason
	case e.reason != "" && d > wide:
		return c.say.tell("conditions", e.reason)
	case d > wide:
		return c.say.tell("chance", low, high, comparisons)
	}
	return c.say.tell("too_wide", low, high, c.say.amount(cl.margin, unit))
}

// mostNamed is how many differences the summary names.
const mostNamed = 3

// summary tells the whole in a few sentences, with how many findings may be false.
func (c *contest) summary(r Result, q float64) string {
	named, counts := []string{}, map[Verdict]int{}
	for _, d := range r.Differences {
		counts[d.Verdict]++
		if d.Verdict == Different && len(named) < mostNamed {
			named = append(named, c.say.spoken(lookup(d.Measure, d.Unit)).noun)
		}
	}
	var b strings.Builder
	if len(named) == 0 {
		b.WriteString(c.say.tell("sum_none"))
	} else {
		b.WriteString(c.say.tell("sum_different", strings.Join(named, ", "), c.others(counts[Different]-len(named))))
	}
	b.WriteString(c.say.tell("sum_counts", counts[Same], counts[CannotTell]))
	if fact := c.pathAndSpeed(); fact != "" && len(named) > 0 {
		b.WriteString(c.say.tell("sum_fact", fact))
	}
	if len(named) > 0 || different(r.Curves) {
		b.WriteString(c.say.tell("sum_false", 100*q))
	} else {
		b.WriteString(c.say.tell("sum_no_false", 100*q))
	}
	return b.String()
}

func different(curves []CurveDifference) bool {
	for _, c := range curves {
		if c.Verdict == Different {
			return true
		}
	}
	return false
}

// Say tells a change of one measure as a coach would, without a full stop: "The tip
// meets the ball 1.2 m/s faster".
func Say(measure, unit string, change float64, locale string) string {
	l := languageOf(locale)
	t := l.spoken(lookup(measure, unit))
	if change < 0 {
		return fmt.Sprintf(t.less, l.amount(-change, unit))
	}
	return fmt.Sprintf(t.more, l.amount(change, unit))
}

func (c *contest) others(n int) string {
	if n <= 0 {
		return ""
	}
	return c.say.tell("sum_more", n)
}
