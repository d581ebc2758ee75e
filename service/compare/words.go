package compare

import (
	"fmt"
	"math"
	"strings"

	"example.com/courtkin/service/measure"
)

// amount writes a size as a coach says it: 22°, 8 cm, 3.1 m/s, 40 ms.
func amount(x float64, unit string) string {
	if math.Abs(x) >= 1e6 {
		return strings.TrimSpace(fmt.Sprintf("%.3g %s", x, unit))
	}
	switch unit {
	case "deg":
		return fmt.Sprintf("%.0f°", x)
	case "deg/s":
		return fmt.Sprintf("%.0f°/s", x)
	case "m":
		return length(x)
	case "m/s":
		return fmt.Sprintf("%.1f m/s", x)
	case "s":
		return fmt.Sprintf("%.0f ms", 1000*x)
	case "1":
		return fmt.Sprintf("%.0f %%", 100*x)
	}
	return strings.TrimSpace(fmt.Sprintf("%.3g %s", x, unit))
}

// length writes metres: centimetres below one metre.
func length(x float64) string {
	switch a := math.Abs(x); {
	case a < 0.0995:
		return fmt.Sprintf("%.1f cm", 100*x)
	case a < 0.995:
		return fmt.Sprintf("%.0f cm", 100*x)
	}
	return fmt.Sprintf("%.2f m", x)
}

// sentence says one difference as a coach would.
func (c *contest) sentence(d Difference, t trait) string {
	switch d.Verdict {
	case Different:
		return c.differs(d, t)
	case Same:
		return fmt.Sprintf("The %s is the same: %s here, %s in the reference.", t.noun, amount(d.Candidate, d.Unit), amount(d.Reference, d.Unit))
	}
	return fmt.Sprintf("The %s: cannot tell. %s", t.noun, d.Reason)
}

func (c *contest) differs(d Difference, t trait) string {
	words := t.more
	if d.Difference < 0 {
		words = t.less
	}
	said := fmt.Sprintf(words, amount(math.Abs(d.Difference), d.Unit))
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
	return said + " than in the reference" + c.opposite(d) + "."
}

// sides says of which side of a level a figure is, where that is a fact of its
// own: hands jammed or free, arm straight or bent, tip below the ball or not.
// The levels of the arm are common practice, no source; the others are 0 by
// definition.
var sides = map[string]struct {
	level        float64
	above, below string
}{
	"spacing.clearance":           {0, "free of the body", "jammed"},
	"path.tip_drop":               {0, "the tip below the ball", "the tip not below the ball"},
	"path.hand_drop":              {0, "the hands below the ball", "the hands not below the ball"},
	"path.out_angle":              {0, "from inside to outside", "from outside to inside"},
	"path.rise_angle":             {0, "upward", "downward"},
	"lag.tip_wrap":                {0, "past the middle of the back", "on the hitting side"},
	"lag.contact":                 {0, "tip behind the hand", "tip ahead of the hand"},
	"posture.shoulder_tilt":       {0, "hitting shoulder higher", "hitting shoulder lower"},
	"legs.stance":                 {0, "closed", "open"},
	"elbow.hitting.contact":       {25, "bent", "straight"},
	"elbow.support.contact":       {25, "bent", "straight"},
	"elbow.hitting.forward_start": {25, "bent", "straight"},
	"elbow.support.forward_start": {25, "bent", "straight"},
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
	if k > 0 {
		return fmt.Sprintf(" (here %s, there %s)", side.above, side.below)
	}
	return fmt.Sprintf(" (here %s, there %s)", side.below, side.above)
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
		return fmt.Sprintf("both tips reach the ball in the same time (%s), so %.2f ± %.2f times the path asks for as many times the mean speed (%s against %s).",
			amount((tr+tc)/2, "s"), ratio, sd, amount(pc/tc, "m/s"), amount(pr/tr, "m/s"))
	}
	return fmt.Sprintf("%.2f ± %.2f times the path in %.2f times the time makes %.2f times the mean speed (%s against %s).",
		ratio, sd, tc/tr, ratio*tr/tc, amount(pc/tc, "m/s"), amount(pr/tr, "m/s"))
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
		return fmt.Sprintf(" than in the reference, so it has %s further to come.", amount(path, "m"))
	}
	return fmt.Sprintf(" than in the reference, so it has %s less way to the ball.", amount(-path, "m"))
}

// missing says why a figure cannot be set against the other.
func missing(ref, cand measure.Figure) string {
	switch {
	case !ref.Known() && !cand.Known():
		return "Neither swing has it" + because(cand, ref)
	case !cand.Known():
		return "The candidate does not have it" + because(cand)
	case !ref.Known():
		return "The reference does not have it" + because(ref)
	case ref.Unit != cand.Unit:
		return "The two swings give it in different units."
	}
	return "A figure came without its error."
}

// because quotes the first reason that a figure gives, without its code and
// shortened.
func because(figures ...measure.Figure) string {
	for _, f := range figures {
		if f.Reason == "" {
			continue
		}
		words := f.Reason
		if code, rest, ok := strings.Cut(words, ": "); ok && !strings.Contains(code, " ") {
			words = rest
		}
		return fmt.Sprintf(": %.200s.", strings.TrimSuffix(words, "."))
	}
	return "."
}

// why tells the reason of a verdict that is not plain.
func why(cl claim, e effect, unit string, comparisons int) string {
	switch {
	case e.blind:
		return e.reason
	case e.reason != "" && math.Abs(cl.d) > z95*cl.sd:
		return "Unlike conditions may explain it: " + e.reason
	case math.Abs(cl.d) > z95*cl.sd:
		return fmt.Sprintf("A difference of %s with an error of ± %s turns up by chance among %d comparisons.", amount(math.Abs(cl.d), unit), amount(z95*cl.sd, unit), comparisons)
	}
	return fmt.Sprintf("The error of ± %s is too wide to tell less than %s apart.", amount(z95*cl.sd, unit), amount(cl.margin, unit))
}

// summary tells the whole in a few sentences, with how many findings may be false.
func (c *contest) summary(r Result, q float64) string {
	named, counts := []string{}, map[Verdict]int{}
	for _, d := range r.Differences {
		counts[d.Verdict]++
		if d.Verdict == Different && len(named) < 3 {
			named = append(named, lookup(d.Measure, d.Unit).noun)
		}
	}
	var b strings.Builder
	if len(named) == 0 {
		b.WriteString("No figure differs beyond its error. ")
	} else {
		fmt.Fprintf(&b, "Different: %s%s. ", strings.Join(named, ", "), others(counts[Different]-len(named)))
	}
	fmt.Fprintf(&b, "%d figures are the same, %d cannot be told. ", counts[Same], counts[CannotTell])
	if fact := c.pathAndSpeed(); fact != "" && len(named) > 0 {
		b.WriteString("In the forward swing, " + fact + " ")
	}
	fmt.Fprintf(&b, "Of the differences named, at most %.0f in 100 are expected to be false (Benjamini–Hochberg over all figures and curves).", 100*q)
	return b.String()
}

func others(n int) string {
	if n <= 0 {
		return ""
	}
	return fmt.Sprintf(" and %d more", n)
}
