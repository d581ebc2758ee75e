package trial

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
)

// Table sets the report out as plain text beside what is promised.
func (r *Report) Table() string {
	var b strings.Builder
	col := column(r.Condition)
	fmt.Fprintf(&b, "condition %c, seed %d: %d strokes in %d clips, %.1f ms a stroke\n\n", r.Condition, r.Seed, r.True, r.Clips, r.MSPer)
	fmt.Fprintf(&b, "%-34s %8s %9s\n", "", "here", "promised")
	row := func(p promise, got float64, atLeast bool) {
		want := p.values[col]
		fmt.Fprintf(&b, "%-34s %7s%% %8s%% %s\n", p.name, number(got), number(want), verdict(got, want, atLeast))
	}
	row(foundPromise, percent(r.Found, r.True), true)
	row(falsePromise, percent(r.Extra, max(1, r.True)), false)
	row(strokePromise, percent(r.Named, r.Found), true)
	r.honesty(&b)
	r.events(&b, col)
	r.measures(&b, col)
	r.mistakes(&b)
	for _, f := range r.Failures {
		fmt.Fprintf(&b, "failed: %s\n", f)
	}
	return b.String()
}

func (r *Report) honesty(b *strings.Builder) {
	ec, el := r.EventCoverage()
	mc, ml := r.MeasureCoverage()
	within := func(v float64) string {
		if v >= coverageLow && v <= coverageHigh {
			return "ok"
		}
		return "MISS"
	}
	fmt.Fprintf(b, "%-34s %7s%% %9s %s\n", "coverage, measures", number(mc), "92–98%", within(mc))
	fmt.Fprintf(b, "%-34s %7s%% %9s %s\n", "coverage, events", number(ec), "92–98%", within(ec))
	fmt.Fprintf(b, "%-34s %7s%% %8s%% %s\n", "lies, measures", number(ml), number(mostLies), verdict(ml, mostLies, false))
	fmt.Fprintf(b, "%-34s %7s%% %8s%% %s\n\n", "lies, events", number(el), number(mostLies), verdict(el, mostLies, false))
}

// mistakes lists what was named wrongly, missed or invented, with what makes the clip again.
func (r *Report) mistakes(b *strings.Builder) {
	for made := range body.NumStrokes {
		for named := range body.NumStrokes {
			if n := r.Confused[[2]body.Stroke{made, named}]; n > 0 && made != named {
				fmt.Fprintf(b, "\n%d × %s named %s", n, made, named)
			}
		}
	}
	for i, m := range r.Missed {
		if i == 20 {
			fmt.Fprintf(b, "\nand %d more", len(r.Missed)-i)
			break
		}
		what := "missed " + m.Stroke.String()
		if m.Stroke == body.StrokeUnknown {
			what = "invented swing"
		}
		fmt.Fprintf(b, "\n%s at %.2f s of clip %d (clip seed %d)", what, m.Contact, m.Clip, m.Seed)
	}
	b.WriteByte('\n')
}

const heading = "%-34s %-4s %8s %8s %8s %9s %8s %7s %7s %6s %5s\n"

func (r *Report) events(b *strings.Builder, col int) {
	fmt.Fprintf(b, heading, "event", "", "median", "p90", "bias", "promised", "covered", "refused", "lies", "scored", "edge")
	for k := phase.EventUnknown + 1; k < phase.NumEvents; k++ {
		p, ok := eventPromises[k]
		want := none
		if ok {
			want = p.values[col]
		}
		r.Events[k].line(b, eventNames[k], want)
	}
	b.WriteByte('\n')
}

var eventNames = [phase.NumEvents]string{
	"", "SPLIT_LANDING", "TURN_START", "TURN_COMPLETE", "DROP_START", "FORWARD_START", "MAX_LAG",
	"RACKET_LOW", "CONTACT", "FOLLOW_END", "RECOVERED", "BALL_RELEASE", "TROPHY",
}

func (r *Report) measures(b *strings.Builder, col int) {
	names := make([]string, 0, len(r.Measures))
	for n := range r.Measures {
		names = append(names, n)
	}
	sort.Strings(names)
	fmt.Fprintf(b, heading, "measure", "", "median", "p90", "bias", "promised", "covered", "refused", "lies", "scored", "edge")
	for _, n := range names {
		want := none
		if p, ok := promised(n); ok {
			want = p.values[col]
		}
		r.Measures[n].line(b, n, want)
	}
}

func (t *Tally) line(b *strings.Builder, name string, want float64) {
	n := len(t.Errors)
	if n+t.Refused+t.Unasked+t.Edge == 0 {
		return
	}
	mark := verdict(t.Median(), want, false)
	if n == 0 && math.IsNaN(want) {
		mark = ""
	}
	unasked := ""
	if t.Unasked > 0 {
		unasked = fmt.Sprintf(" (%d where there is none)", t.Unasked)
	}
	fmt.Fprintf(b, "%-34s %-4s %8s %8s %8s %9s %7s%% %6s%% %7d %6d %5d %s%s\n", name, t.Unit, number(t.Median()), number(t.P90()),
		number(t.Bias()), number(want), number(t.Coverage()), number(t.Refusals()), t.Lies, n, t.Edge, mark, unasked)
}

func number(v float64) string {
	switch {
	case math.IsNaN(v):
		return "–"
	case math.Abs(v) >= 100:
		return fmt.Sprintf("%.0f", v)
	case math.Abs(v) >= 1:
		return fmt.Sprintf("%.1f", v)
	}
	return fmt.Sprintf("%.3f", v)
}

func verdict(got, want float64, atLeast bool) string {
	if math.IsNaN(want) {
		return ""
	}
	if math.IsNaN(got) || (atLeast && got < want) || (!atLeast && got > want) {
		return "MISS"
	}
	return "ok"
}
