package practice

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v ± %v", what, got, want, tol)
	}
}

var book = func() *cue.Book {
	b, err := cue.Load(cue.Base())
	if err != nil {
		panic(err)
	}
	return b
}()

// usual is a forehand without faults: value, swing-to-swing spread, own error.
var usual = map[string][3]float64{
	"racket_speed.tip.contact": {28, 1.0, .4}, "lag.max": {60, 5, 3}, "turn.shoulders.max": {90, 4, 2}, "contact.ahead": {.45, .05, .015},
	"spacing.clearance": {.3, .04, .015}, "spacing.reach": {.8, .05, .015}, "legs.rise": {.12, .02, .01}, "legs.knee_back.max": {48, 4, 2},
	"path.rise_angle": {20, 3, 1.5}, "elbow.hitting.contact": {40, 5, 2}, "head.stillness": {.02, .002, .001}, "tempo.preparation": {.7, .06, .01},
}

// play makes n forehands; change moves a measure by swing number.
func play(r *rand.Rand, n int, change func(name string, i int) float64) []*measure.Sheet {
	var out []*measure.Sheet
	for i := range n {
		s := &measure.Sheet{ID: fmt.Sprintf("swing-%d", i), Stroke: body.Forehand, StrokeConfidence: 1}
		for _, row := range measure.Catalog() {
			u, ok := usual[row.Name]
			if !ok {
				continue
			}
			v := u[0]
			if r != nil {
				v += math.Hypot(u[1], u[2]) * r.NormFloat64()
			}
			if change != nil {
				v += change(row.Name, i)
			}
			s.Figures = append(s.Figures, measure.Figure{Name: row.Name, Value: v, SD: u[2], Low: v - 1.96*u[2], High: v + 1.96*u[2], Unit: row.Unit, Grade: measure.Good})
		}
		out = append(out, s)
	}
	return out
}

func find(t *testing.T, s Summary, name string) Figure {
	t.Helper()
	for _, f := range s.Figures {
		if f.Measure == name {
			return f
		}
	}
	t.Fatalf("no figure %s", name)
	return Figure{}
}

// TestWorkedExamples: the published series, put through a practice.
func TestWorkedExamples(t *testing.T) {
	// Mann–Kendall and Sen: 14 values, S = 54, two-sided p = .00366, slope .56667
	// (worked by hand at mathcs.holycross.edu; literature.md, section 12).
	values := []float64{12.9, 14.8, 13.2, 15.7, 13.8, 15.6, 12.9, 11.0, 17.3, 15.9, 19.0, 18.3, 20.1, 21.7}
	sheets := play(nil, len(values), func(name string, i int) float64 {
		if name == "racket_speed.tip.contact" {
			return values[i] - usual[name][0]
		}
		return 0
	})
	f := find(t, Summarize(book, Request{Sheets: sheets}), "racket_speed.tip.contact")
	near(t, "slope", f.TrendPerSwing, .56667, 1e-4)
	near(t, "p", f.TrendP, .00366, 5e-5)
	near(t, "median", f.Median, 15.65, 1e-9)
	// Minimal detectable change is 1.96·√2·SEM (Weir 2005); of a median of n
	// values with spread s and no error of their own, SEM = s·√(π/2n).
	x := []float64{1, 2, 3, 4, 5, 6, 7}
	near(t, "SEM", standardError(x, make([]float64, 7)), 1.4826*2*math.Sqrt(math.Pi/14), 1e-3)
	near(t, "MDC", signal.MDC95(7.557), 20.95, .005)
}

// TestTrendsAgainstSciPy: scipy.stats 1.10.1, theilslopes and
// kendalltau(method="exact"); the last series has 40 values with ties and two gross outliers.
func TestTrendsAgainstSciPy(t *testing.T) {
	for _, c := range []struct {
		x        []float64
		slope, p float64
	}{
		{[]float64{27.1, 26.8, 28.0, 27.5, 28.3, 28.9, 28.1, 29.4}, 0.314285714, 0.0141369048},
		{[]float64{62.0, 58.5, 60.1, 55.2, 57.3, 50.9, 52.4, 49.8, 51.0, 47.7}, -1.51666667, 0.000946318342},
		{[]float64{0.41, 0.47, 0.39, 0.44, 0.52, 0.36, 0.45, 0.43, 0.40, 0.48}, 0.00166666667, 0.861800595},
		{[]float64{93.4, 88.9, 89.8, 90.4, 87.8, 89.3, 89.1, 40.0, 90.8, 89.9, 87.2, 88.0, 89.2, 87.5, 87.4, 84.8, 88.7, 87.7, 87.8, 84.1,
			90.3, 150.0, 85.9, 90.6, 86.3, 83.3, 85.3, 81.4, 87.9, 84.8, 84.0, 87.5, 81.9, 86.1, 80.8, 83.4, 82.2, 87.4, 87.8, 83.5}, -0.170588235, math.NaN()},
	} {
		at := make([]float64, len(c.x))
		for i := range at {
			at[i] = float64(i)
		}
		slope, p := trend(at, c.x)
		near(t, "slope", slope, c.slope, 1e-8)
		if !math.IsNaN(c.p) {
			near(t, "p", p, c.p, 1e-9)
		}
	}
}

// TestTrends: a planted trend is found, and flat series are found no more
// often than p says.
func TestTrends(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	found, flat, all, told := 0, 0, 0, 0
	for range 100 {
		s := Summarize(book, Request{Sheets: play(r, 30, func(name string, i int) float64 {
			if name == "contact.ahead" {
				return -.006 * float64(i)
			}
			return 0
		})})
		for _, f := range s.Figures {
			switch {
			case f.Measure == "contact.ahead":
				if f.TrendP < .05 && f.TrendPerSwing < 0 {
					found++
				}
				continue
			case f.TrendP < .05:
				flat++
			}
			all++
		}
		if _, words, ok := strings.Cut(s.Text, "Over ten swings: "); ok && strings.Contains(words, " cm further back") {
			told++
		}
	}
	if found < 97 || told < 90 {
		t.Errorf("planted trend found in %d of 100, told in %d", found, told)
	}
	if share := float64(flat) / float64(all); share > .07 {
		t.Errorf("%.3f of flat series have a trend, want about .05", share)
	}
}

// TestChangeAgainstBaseline: equal practices give no change (300 pairs, 12
// figures, false discovery rate .05 and three binomial errors of .0126), a
// planted one is found, and small errors give the same.
func TestChangeAgainstBaseline(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	wrong, found, same, all := 0, 0, 0, 0
	for range 300 {
		base := Summarize(book, Request{Sheets: play(r, 20, nil)}).Figures
		equal := Summarize(book, Request{Sheets: play(r, 20, nil), Baseline: base})
		bad := false
		for _, f := range equal.Figures {
			all++
			bad = bad || f.ChangeVerdict == compare.Different
			if f.ChangeVerdict == compare.Same {
				same++
			}
		}
		if bad {
			wrong++
		}
		moved := Summarize(book, Request{Sheets: play(r, 20, func(name string, _ int) float64 {
			if name == "turn.shoulders.max" {
				return -12
			}
			return 0
		}), Baseline: base})
		if find(t, moved, "turn.shoulders.max").ChangeVerdict == compare.Different {
			found++
		}
	}
	if share := float64(wrong) / 300; share > .088 {
		t.Errorf("%.3f of equal practices show a change", share)
	}
	if found < 295 {
		t.Errorf("planted change found in %d of 300", found)
	}
	if share := float64(same) / float64(all); share < .5 {
		t.Errorf("only %.2f of equal figures are the same", share)
	}
	f := find(t, Summarize(book, Request{Sheets: play(nil, 5, nil)}), "lag.max")
	if !math.IsNaN(f.ChangeFromBaseline) || f.ChangeVerdict != compare.VerdictUnknown {
		t.Errorf("without a baseline: %+v", f)
	}
}

// TestShortPracticesShowNoChange: with six swings each the spread is badly
// known, and equal practices must still show no change.
func TestShortPracticesShowNoChange(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 9))
	wrong := 0
	for range 300 {
		base := Summarize(book, Request{Sheets: play(r, 6, nil)}).Figures
		s := Summarize(book, Request{Sheets: play(r, 6, nil), Baseline: base})
		if slices.ContainsFunc(s.Figures, func(f Figure) bool { return f.ChangeVerdict == compare.Different }) {
			wrong++
		}
	}
	if share := float64(wrong) / 300; share > .088 {
		t.Errorf("%.3f of equal short practices show a change", share)
	}
}

// TestSmallestRealChangeCovers: between equal practices the change of a median
// stays within it 95 % of the time or more.
func TestSmallestRealChangeCovers(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	inside, all := 0, 0
	for range 300 {
		base := Summarize(book, Request{Sheets: play(r, 15, nil)}).Figures
		for _, f := range Summarize(book, Request{Sheets: play(r, 15, nil), Baseline: base}).Figures {
			all++
			if math.Abs(f.ChangeFromBaseline) <= f.SmallestRealChange {
				inside++
			}
		}
	}
	if share := float64(inside) / float64(all); share < .92 {
		t.Errorf("%.3f within the smallest real change", share)
	}
}

func TestTypicalAndBest(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	sheets := play(r, 21, nil)
	for i := range sheets[4].Figures { // exactly the level of the practice
		f := &sheets[4].Figures[i]
		f.Value = usual[f.Name][0]
	}
	set := func(s *measure.Sheet, name string, v float64) {
		for i := range s.Figures {
			if f := &s.Figures[i]; f.Name == name {
				f.Value, f.Low, f.High = v, v-1.96*f.SD, v+1.96*f.SD
			}
		}
	}
	set(sheets[9], "racket_speed.tip.contact", 40)
	set(sheets[12], "racket_speed.tip.contact", 50)
	set(sheets[12], "turn.shoulders.max", 30) // faster, with a correction due
	sheets[15].Figures = sheets[15].Figures[:1]
	set(sheets[15], "racket_speed.tip.contact", 60) // fastest, hardly seen
	s := Summarize(book, Request{Sheets: sheets})
	if s.TypicalSwingID != "swing-4" {
		t.Errorf("typical %s", s.TypicalSwingID)
	}
	if s.BestSwingID != "swing-9" {
		t.Errorf("best %s", s.BestSwingID)
	}
}

func TestFocusIsAHabit(t *testing.T) {
	late := func(share int) []*measure.Sheet {
		return play(rand.New(rand.NewPCG(9, 1)), 20, func(name string, i int) float64 {
			if name == "contact.ahead" && i%10 < share {
				return -.55
			}
			return 0
		})
	}
	s := Summarize(book, Request{Sheets: late(6), Locale: "de"})
	if s.Focus == nil || s.Focus.Name != "forehand_late" || !strings.HasPrefix(s.Focus.Text, "Triff") || !strings.Contains(s.Text, "Vorhand") {
		t.Errorf("%+v %q", s.Focus, s.Text)
	}
	if f := Summarize(book, Request{Sheets: late(1)}).Focus; f != nil {
		t.Errorf("two of twenty are no habit: %+v", f)
	}
}

// TestTiring: speed and lag fade together; speed alone, or lag alone, is none.
func TestTiring(t *testing.T) {
	fade := func(names ...string) bool {
		s := Summarize(book, Request{Sheets: play(rand.New(rand.NewPCG(2, 2)), 40, func(name string, i int) float64 {
			if slices.Contains(names, name) {
				return -.006 * float64(i) * usual[name][0]
			}
			return 0
		})})
		return slices.ContainsFunc(s.Cautions, func(c cue.Cue) bool { return c.Name == "caution_tiring" })
	}
	for _, c := range []struct {
		names []string
		want  bool
	}{
		{[]string{"racket_speed.tip.contact", "lag.max"}, true}, {[]string{"racket_speed.tip.contact", "legs.knee_back.max"}, true},
		{[]string{"racket_speed.tip.contact"}, false}, {[]string{"lag.max"}, false}, {nil, false},
	} {
		if got := fade(c.names...); got != c.want {
			t.Errorf("%v: %v", c.names, got)
		}
	}
}

func TestJuniorsVolume(t *testing.T) {
	sheets := play(nil, 61, nil)
	for _, c := range []struct{ junior, want bool }{{true, true}, {false, false}} {
		s := Summarize(book, Request{Sheets: sheets, Player: body.Player{Junior: c.junior}})
		if got := slices.ContainsFunc(s.Cautions, func(c cue.Cue) bool { return c.Name == "caution_junior_volume" }); got != c.want {
			t.Errorf("junior %v: %v", c.junior, got)
		}
		for i, a := range s.Cautions {
			for _, b := range s.Cautions[:i] {
				if a.Name == b.Name {
					t.Errorf("%s twice", a.Name)
				}
			}
		}
	}
}

// TestAnythingGoesIn: empty, absent and odd sheets give a summary of finite figures.
func TestAnythingGoesIn(t *testing.T) {
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, 1e300, -1e300}
	r := rand.New(rand.NewPCG(1, 1))
	if s := Summarize(book, Request{}); s.Text == "" || len(s.Figures) != 0 || s.Focus != nil {
		t.Errorf("%+v", s)
	}
	for range 100 {
		sheets := append(play(r, 7, nil), nil, &measure.Sheet{}, &measure.Sheet{Stroke: 200})
		for _, s := range sheets[:7] {
			s.Stroke = body.Stroke(r.IntN(10))
			for i := range s.Figures {
				if r.IntN(3) == 0 {
					s.Figures[i].Value, s.Figures[i].SD, s.Figures[i].Grade = odd[r.IntN(len(odd))], odd[r.IntN(len(odd))], measure.Grade(r.IntN(5))
				}
			}
		}
		base := []Figure{{Stroke: body.Forehand, Measure: "lag.max", Unit: "deg", Count: 3, Median: odd[r.IntN(len(odd))], SmallestRealChange: odd[r.IntN(len(odd))]}}
		for _, f := range Summarize(book, Request{Sheets: sheets, Baseline: base}).Figures {
			if x := f.Median + f.Spread + f.TrendPerSwing + f.TrendP + f.SmallestRealChange; math.IsNaN(x) {
				t.Fatalf("%+v", f)
			}
		}
	}
}

func BenchmarkSummarize(b *testing.B) {
	for _, n := range []int{20, 200} {
		b.Run(fmt.Sprintf("swings=%d", n), func(b *testing.B) {
			sheets := play(rand.New(rand.NewPCG(1, 1)), n, nil)
			for b.Loop() {
				Summarize(book, Request{Sheets: sheets})
			}
		})
	}
}
