package practice

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
)

// Summarize looks over a practice. Any list of swings is taken, an empty one
// too; nothing in the request is changed.
func Summarize(book *cue.Book, r Request) Summary {
	groups := sessions(r.Sheets)
	var s Summary
	for _, g := range groups {
		s.Counts = append(s.Counts, Count{g.stroke, uint32(len(g.sheets))})
		s.Figures = append(s.Figures, g.figures()...)
	}
	against(s.Figures, r.Baseline)
	for _, g := range groups {
		g.due = dueIn(book, g, r)
	}
	if len(groups) > 0 {
		most := mostPlayed(groups)
		s.TypicalSwingID, s.BestSwingID = most.typical(), most.best()
	}
	var of habit
	s.Focus, of = focus(groups)
	s.Cautions = cautions(book, groups, r)
	s.Text = words(s, of, groups, r.Locale)
	return s
}

// mostPlayed returns the most frequent stroke that was named; ties go to the
// earlier in wire order.
func mostPlayed(groups []*session) *session {
	best := groups[0]
	for _, g := range groups[1:] {
		if best.stroke == body.StrokeUnknown || len(g.sheets) > len(best.sheets) {
			best = g
		}
	}
	return best
}

// mostForMedoid bounds the pairs of swings: the last so many count.
const mostForMedoid = 300

// typical returns the swing with the smallest summed distance to all others,
// the distance being the mean over shared measures of |difference| ÷ spread,
// weighted by how much each measure matters.
func (g *session) typical() string {
	first := max(0, len(g.sheets)-mostForMedoid)
	var rows [][]float64
	var weights []float64
	for i, row := range measure.Catalog() {
		values := g.values[i][first:]
		_, x := present(values)
		if spread := signal.MAD(x); len(x) > 0 && spread > 0 {
			rows, weights = append(rows, values), append(weights, compare.Matters(row.Name, g.stroke)/spread)
		}
	}
	i := signal.Medoid(func(a, b int) float64 { return apart(rows, weights, a, b) }, len(g.sheets)-first)
	return g.sheets[first+max(i, 0)].ID
}

func apart(rows [][]float64, weights []float64, a, b int) float64 {
	sum, n := 0.0, 0
	for i, row := range rows {
		if d := math.Abs(row[a] - row[b]); !math.IsNaN(d) {
			sum += d * weights[i]
			n++
		}
	}
	return sum / float64(n)
}

// dueIn returns the corrections that each swing of a stroke calls for.
func dueIn(book *cue.Book, g *session, r Request) [][]cue.Cue {
	due := make([][]cue.Cue, len(g.sheets))
	for i, s := range g.sheets {
		due[i] = book.Due(s, r.Player, r.Locale)
	}
	return due
}

// wellSeen is the share of the usual number of figures that a swing needs to
// be called the best: little seen is little to find fault with. Our choice.
const wellSeen = 0.8

// best returns the swing with the fastest tip at contact among those with the
// fewest corrections due; where the tip is not known the hand stands in.
func (g *session) best() string {
	counts := make([]float64, len(g.sheets))
	for i, s := range g.sheets {
		for _, f := range s.Figures {
			if f.Known() {
				counts[i]++
			}
		}
	}
	needed := wellSeen * signal.Median(counts)
	speed := g.of("racket_speed.tip.contact")
	if _, x := present(speed); len(x) == 0 {
		speed = g.of("racket_speed.hand.contact")
	}
	best := -1
	for i := range g.sheets {
		if counts[i] >= needed && (best < 0 || better(len(g.due[i]), at(speed, i), len(g.due[best]), at(speed, best))) {
			best = i
		}
	}
	return g.sheets[max(best, 0)].ID
}

func at(x []float64, i int) float64 {
	if i >= len(x) || math.IsNaN(x[i]) {
		return math.Inf(-1)
	}
	return x[i]
}

func better(due int, speed float64, thanDue int, thanSpeed float64) bool {
	if due != thanDue {
		return due < thanDue
	}
	return speed > thanSpeed
}

// focusShare is the share of a stroke's swings in which a correction must be
// due to become the focus: a fault of every third swing is a habit. Our choice.
const focusShare = 0.3

// habit is how often the focus is due, and in which stroke.
type habit struct {
	stroke        body.Stroke
	count, swings int
}

// tally counts one correction over one stroke.
type tally struct {
	cue        cue.Cue
	count      int
	priority   float64
	confidence float64
}

// focus returns the one thing to work on: the correction with the largest sum
// of priorities over the practice, among those that are a habit.
func focus(groups []*session) (*cue.Cue, habit) {
	var best *tally
	var of habit
	for _, g := range groups {
		for _, t := range tallies(g.due) {
			often := float64(t.count) >= focusShare*float64(len(g.sheets))
			if often && (best == nil || t.priority > best.priority) {
				best, of = t, habit{g.stroke, t.count, len(g.sheets)}
			}
		}
	}
	if best == nil {
		return nil, of
	}
	c := best.cue
	c.Priority = best.priority / float64(best.count)
	c.Confidence = best.confidence / float64(best.count)
	return &c, of
}

// tallies counts the corrections of one stroke, in order of name.
func tallies(due [][]cue.Cue) []*tally {
	byName := map[string]*tally{}
	var out []*tally
	for _, cues := range due {
		for _, c := range cues {
			t := byName[c.Name]
			if t == nil {
				t = &tally{cue: c}
				byName[c.Name] = t
				out = append(out, t)
			}
			t.count++
			t.priority += c.Priority
			t.confidence += c.Confidence
		}
	}
	slices.SortFunc(out, func(a, b *tally) int {
		if a.cue.Name < b.cue.Name {
			return -1
		}
		return 1
	})
	return out
}

// before are the cautions that belong before and during play only.
var before = []string{"caution_space", "caution_loose_balls"}

// cautions returns those whose time came during the practice, tiring first.
func cautions(book *cue.Book, groups []*session, r Request) []cue.Cue {
	var out []cue.Cue
	if slices.ContainsFunc(groups, (*session).tiring) {
		if c, ok := book.Named("caution_tiring", r.Locale); ok {
			out = append(out, c)
		}
	}
	total := uint32(0)
	for _, g := range groups {
		total += uint32(len(g.sheets))
	}
	found := book.Cautions(r.Player, body.StrokeUnknown, total, r.Locale)
	for _, g := range groups {
		found = append(found, book.Cautions(r.Player, g.stroke, uint32(len(g.sheets)), r.Locale)...)
	}
	for _, c := range found {
		if !slices.Contains(before, c.Name) && !slices.ContainsFunc(out, func(o cue.Cue) bool { return o.Name == c.Name }) {
			out = append(out, c)
		}
	}
	return out
}

// Tiring: over at least tiringSwings the speed falls by tiringFall of its
// median or more, and lag or leg drive falls with it, each with a Mann–Kendall
// p below tiringP. Common practice, no source.
const (
	tiringSwings = 12
	tiringFall   = 0.05
	tiringP      = 0.05
)

// fading are the measures that fade with tired legs and arms.
var fading = []string{"lag.max", "legs.rise", "legs.knee_back.max", "legs.knee_front.max"}

// tiring reports whether speed falls while lag or leg drive fades.
func (g *session) tiring() bool {
	speed := g.of("racket_speed.tip.contact")
	if _, x := present(speed); len(x) < tiringSwings {
		speed = g.of("racket_speed.hand.contact")
	}
	if !falls(speed, tiringFall) {
		return false
	}
	return slices.ContainsFunc(fading, func(name string) bool { return falls(g.of(name), 0) })
}

// falls reports whether a series falls for sure, by at least a share of its median.
func falls(values []float64, share float64) bool {
	at, x := present(values)
	if len(x) < tiringSwings {
		return false
	}
	slope, p := trend(at, x)
	span := at[len(at)-1] - at[0]
	return slope < 0 && p < tiringP && -slope*span >= share*math.Abs(signal.Median(x))
}
