package cue

import (
	"fmt"
	"math"
	"math/rand/v2"
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v ± %v", what, got, want, tol)
	}
}

func book(t testing.TB, extras ...[]byte) *Book {
	t.Helper()
	b, err := Load(Base(), extras...)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func figure(name string, value, sd float64) measure.Figure {
	unit := "1"
	if i, ok := measure.Index(name); ok {
		unit = measure.Catalog()[i].Unit
	}
	return measure.Figure{Name: name, Value: value, SD: sd, Low: value - 1.96*sd, High: value + 1.96*sd, Unit: unit, Grade: measure.Good}
}

func sheet(s body.Stroke, figures ...measure.Figure) *measure.Sheet {
	return &measure.Sheet{ID: "made", Stroke: s, StrokeConfidence: 1, Figures: figures,
		Capture: measure.Capture{FrameRate: 120, SlowMotion: 1, Method: "world"}}
}

func names(cs []Cue, kind Kind) []string {
	var out []string
	for _, c := range cs {
		if c.Kind == kind {
			out = append(out, c.Name)
		}
	}
	return out
}

// TestCatalogIsComplete: the numbers that the catalog promises, every stroke
// served, both languages, measures that exist.
func TestCatalogIsComplete(t *testing.T) {
	b := book(t)
	count := map[Kind]int{}
	for _, p := range b.pages {
		count[p.kind]++
		for _, m := range p.Proof {
			if _, ok := measure.Index(m); !ok {
				t.Errorf("%s: no measure %s", p.Name, m)
			}
		}
	}
	for kind, least := range map[Kind]int{Correct: 40, Keep: 15, Capture: 5, Caution: 6} {
		if count[kind] < least {
			t.Errorf("kind %d: %d entries, want %d", kind, count[kind], least)
		}
	}
	for name, s := range strokeNames {
		for _, kind := range []Kind{Correct, Keep} {
			n := 0
			for _, p := range b.pages {
				if p.kind == kind && p.serves(s, body.Intermediate) && p.Name != rest {
					n++
				}
			}
			if n < 3 {
				t.Errorf("%s has %d entries of kind %d", name, n, kind)
			}
		}
	}
	en, de := b.Definitions("en-GB"), b.Definitions("de_AT")
	for i := range en {
		if en[i].Text == de[i].Text || en[i].Drill == de[i].Drill || en[i].Text == "" || de[i].Text == "" || en[i].Condition == "" || en[i].Source == "" {
			t.Errorf("%+v", en[i])
		}
	}
	if fr := b.Definitions("fr"); fr[0].Text != en[0].Text {
		t.Error("an unknown language is not English")
	}
}

// inward are words that point at the body where the racket, the ball and the
// target are meant (external focus), and words that blame.
var inward = regexp.MustCompile(`(?i)\b(elbows?|wrists?|forearms?|knees?|hips?|shoulders?|flex|extend|rotate|pronate|wrong|bad)\b|ellbogen|handgelenk|unterarm|knie|hüfte|schulter|beuge|rotier|falsch|schlecht`)

// TestWordsAreShortAndPointOutward: at most 12 words, external focus.
func TestWordsAreShortAndPointOutward(t *testing.T) {
	for _, p := range book(t).pages {
		for _, lang := range languages {
			text := p.Text[lang]
			if n := len(strings.Fields(text)); n > 12 {
				t.Errorf("%s (%s): %d words: %s", p.Name, lang, n, text)
			}
			if end := text[len(text)-1]; end != '.' && end != '?' && end != '!' {
				t.Errorf("%s (%s): %q is no sentence", p.Name, lang, text)
			}
			if (p.kind == Correct || p.kind == Keep) && inward.MatchString(text+" "+p.Drill[lang]) {
				t.Errorf("%s (%s) points at the body: %s / %s", p.Name, lang, text, p.Drill[lang])
			}
		}
	}
	if !inward.MatchString("Rotate your elbow.") {
		t.Error("the lint sees nothing")
	}
}

// TestFiresOnlyBeyondItsError: the band's edge for a beginner's forehand turn is 65°.
func TestFiresOnlyBeyondItsError(t *testing.T) {
	b := book(t)
	for _, c := range []struct {
		value, sd float64
		fires     bool
	}{
		{40, 5, true}, {64, 5, false}, {55.3, 5, false}, {55.1, 5, true}, {40, 20, false}, {66, 0.1, false}, {64.9, 0.01, true},
	} {
		s := sheet(body.Forehand, figure("turn.shoulders.max", c.value, c.sd))
		got := slices.Contains(names(b.Select(s, History{}), Correct), "forehand_turn_small")
		if got != c.fires {
			t.Errorf("%v ± %v: fires %v, want %v", c.value, c.sd, got, c.fires)
		}
	}
}

// TestAbsentIsNotZero: no figure, no cue, though 0 would be far outside the band.
func TestAbsentIsNotZero(t *testing.T) {
	b := book(t)
	for s := body.Forehand; s < body.NumStrokes; s++ {
		cs := b.Select(sheet(s), History{SwingsSoFar: 1})
		if n := len(names(cs, Correct)) + len(names(cs, Keep)); n != 0 {
			t.Errorf("%v: %v", s, cs)
		}
	}
	gone := figure("turn.shoulders.max", 0, 1)
	gone.Grade = measure.NotMeasurable
	if cs := names(b.Select(sheet(body.Forehand, gone), History{}), Correct); len(cs) != 0 {
		t.Errorf("not measurable: %v", cs)
	}
}

// TestEarliestCauseFirst: equal effects, so the turn comes before the lag.
func TestEarliestCauseFirst(t *testing.T) {
	b := book(t)
	turn, lag := figure("turn.shoulders.max", 35, 2), figure("lag.max", 0, 2)
	cs := b.Due(sheet(body.Forehand, lag, turn), body.Player{}, "en")
	if len(cs) != 2 || cs[0].Name != "forehand_turn_small" || cs[1].Name != "forehand_lag_small" {
		t.Fatalf("%+v", cs)
	}
	// Both lie two steps past their band: 2/3; links 2 and 9 of 11; certainty 1.
	near(t, "turn", cs[0].Priority, (1-.6*.1)*2/3, 1e-6)
	near(t, "lag", cs[1].Priority, (1-.6*.8)*2/3, 1e-6)
	// A much larger effect overtakes.
	cs = b.Due(sheet(body.Forehand, figure("lag.max", -60, 2), figure("turn.shoulders.max", 60, 2)), body.Player{}, "en")
	if cs[0].Name != "forehand_lag_small" {
		t.Errorf("%+v", cs)
	}
}

func TestLevelMovesTheBand(t *testing.T) {
	b := book(t)
	s := sheet(body.Forehand, figure("turn.shoulders.max", 70, 1))
	for level, fires := range map[body.Level]bool{body.LevelUnknown: false, body.Beginner: false, body.Advanced: true, body.Elite: true} {
		got := len(names(b.Select(s, History{Player: body.Player{Level: level}}), Correct)) > 0
		if got != fires {
			t.Errorf("level %d: %v, want %v", level, got, fires)
		}
	}
}

// TestFading counts what is said of a fault that stays: 10 of the first 10
// swings, 15 of the next 30, 12 of the next 60.
func TestFading(t *testing.T) {
	b := book(t)
	s := sheet(body.Forehand, figure("turn.shoulders.max", 35, 2), figure("lag.max", 80, 2))
	counts := [3]int{}
	for n := range uint32(100) {
		part := 0
		if n >= 10 {
			part = 1
		}
		if n >= 40 {
			part = 2
		}
		counts[part] += len(names(b.Select(s, History{SwingsSoFar: n}), Correct))
	}
	if counts != [3]int{10, 15, 12} {
		t.Errorf("%v", counts)
	}
}

// TestBandWidens: 61° is 4° past the beginner's band of 65°, of 15° steps: 0.27.
func TestBandWidens(t *testing.T) {
	b := book(t)
	s := sheet(body.Forehand, figure("turn.shoulders.max", 61, 1))
	for n, want := range map[uint32]int{0: 1, 9: 1, 12: 1, 50: 0, 100: 0} {
		if got := len(names(b.Select(s, History{SwingsSoFar: n}), Correct)); got != want {
			t.Errorf("after %d swings: %d corrections, want %d", n, got, want)
		}
	}
	s = sheet(body.Forehand, figure("turn.shoulders.max", 63, .5))
	for n, want := range map[uint32]int{0: 1, 12: 0} {
		if got := len(names(b.Select(s, History{SwingsSoFar: n}), Correct)); got != want {
			t.Errorf("after %d swings: %d corrections, want %d", n, got, want)
		}
	}
}

// TestNeverThreeTimesRunning plays 200 swings with one fault and one virtue,
// and with two faults.
func TestNeverThreeTimesRunning(t *testing.T) {
	b := book(t)
	for _, figures := range [][]measure.Figure{
		{figure("turn.shoulders.max", 35, 2)},
		{figure("turn.shoulders.max", 35, 2), figure("lag.max", 80, 2)},
		{figure("turn.shoulders.max", 35, 2), figure("lag.max", 5, 2)},
	} {
		var recent []string
		said := map[Kind][]string{}
		for n := range uint32(200) {
			for _, c := range b.Select(sheet(body.Forehand, figures...), History{Recent: recent, SwingsSoFar: n}) {
				recent = append(recent, c.Name)
				if c.Kind == Correct || c.Kind == Keep {
					said[c.Kind] = append(said[c.Kind], c.Text)
				}
			}
		}
		for kind, texts := range said {
			for i := 2; i < len(texts); i++ {
				if texts[i] == texts[i-1] && texts[i] == texts[i-2] {
					t.Fatalf("kind %d: %q three times running", kind, texts[i])
				}
			}
		}
		if len(said[Correct]) < 20 {
			t.Errorf("only %d corrections in 200 swings", len(said[Correct]))
		}
	}
}

// TestCautionsComeAtFixedTimes whatever else was said.
func TestCautionsComeAtFixedTimes(t *testing.T) {
	b := book(t)
	for _, c := range []struct {
		swings uint32
		junior bool
		stroke body.Stroke
		want   string
	}{
		{0, false, body.Forehand, "caution_space"}, {40, false, body.Forehand, "caution_space"}, {400, true, body.Serve, "caution_space"},
		{15, false, body.Forehand, "caution_pain"}, {75, false, body.Forehand, "caution_pain"},
		{60, true, body.Forehand, "caution_junior_volume"}, {90, true, body.Forehand, "caution_junior_volume"},
		{40, true, body.Serve, "caution_junior_serves"}, {100, false, body.Forehand, "caution_rest"},
	} {
		h := History{SwingsSoFar: c.swings, Player: body.Player{Junior: c.junior}, Recent: []string{c.want, c.want, c.want}}
		if got := names(b.Select(sheet(c.stroke), h), Caution); !slices.Contains(got, c.want) {
			t.Errorf("swing %d: %v lacks %s", c.swings, got, c.want)
		}
	}
	adult := names(b.Select(sheet(body.Forehand), History{SwingsSoFar: 60}), Caution)
	if slices.Contains(adult, "caution_junior_volume") {
		t.Error("an adult got the juniors' caution")
	}
	if got := names(b.Cautions(body.Player{Junior: true}, body.StrokeUnknown, 65, "en"), Caution); !slices.Contains(got, "caution_junior_volume") {
		t.Errorf("a practice of 65: %v", got)
	}
}

func TestCaptureAdvice(t *testing.T) {
	b := book(t)
	s := sheet(body.Forehand, figure("lag.max", 60, 2))
	for _, c := range []struct {
		set  func(*measure.Sheet)
		want string
	}{
		{func(s *measure.Sheet) { s.Capture.FrameRate = 30 }, "capture_frame_rate"},
		{func(s *measure.Sheet) { s.Warnings = []measure.Warning{{Code: "clock_unverified"}} }, "capture_clock"},
		{func(s *measure.Sheet) { s.Capture.ScaleSD = .2 }, "capture_scale"},
		{func(s *measure.Sheet) { s.Figures = []measure.Figure{figure("turn.shoulders.max", 90, 2)} }, "capture_racket"},
		{func(s *measure.Sheet) { s.Capture.Method = "image_plane" }, "capture_second_view"},
	} {
		x := *s
		c.set(&x)
		if got := names(b.CaptureAdvice(&x, "de"), Capture); !slices.Contains(got, c.want) {
			t.Errorf("%v lacks %s", got, c.want)
		}
		if got := names(b.Select(&x, History{}), Capture); len(got) != 1 {
			t.Errorf("%v, want one", got)
		}
		if got := names(b.Select(&x, History{Recent: []string{c.want}}), Capture); slices.Contains(got, c.want) {
			t.Errorf("%s was said again", c.want)
		}
	}
	if got := b.CaptureAdvice(s, "en"); len(got) != 0 {
		t.Errorf("a good capture got %v", got)
	}
}

// random draws a sheet with any figures at all.
func random(r *rand.Rand) *measure.Sheet {
	s := sheet(body.Stroke(r.IntN(int(body.NumStrokes) + 1)))
	s.StrokeConfidence = r.Float64() + .3
	for _, row := range measure.Catalog() {
		scale := map[string]float64{"deg": 90, "m": 1, "s": .6, "m/s": 30, "deg/s": 1500}[row.Unit]
		if scale == 0 {
			scale = 1
		}
		f := figure(row.Name, scale*r.NormFloat64(), scale*.05*r.ExpFloat64())
		f.Grade = measure.Grade(r.IntN(4))
		s.Figures = append(s.Figures, f)
	}
	return s
}

// TestRandomSwings: 500 sets of measures, never two corrections or keeps, an
// empty text, or a cue inside its band.
func TestRandomSwings(t *testing.T) {
	b := book(t)
	r := rand.New(rand.NewPCG(1, 2))
	fired := map[string]bool{}
	for i := range 500 {
		s := random(r)
		h := History{Player: body.Player{Level: body.Level(r.IntN(5)), Junior: i%3 == 0}, Locale: []string{"en", "de", "xx", ""}[i%4], SwingsSoFar: uint32(r.IntN(200))}
		cs := b.Select(s, h)
		if n, k := len(names(cs, Correct)), len(names(cs, Keep)); n > 1 || k > 1 {
			t.Fatalf("%d corrections, %d keeps", n, k)
		}
		for _, c := range cs {
			if c.Text == "" || c.Drill == "" || c.Name == "" || !(c.Priority >= 0 && c.Priority <= 1 && c.Confidence >= 0 && c.Confidence <= 1) {
				t.Fatalf("%+v", c)
			}
		}
		f := newFacts(s, h.Player, h.SwingsSoFar)
		for j := range b.pages {
			p := &b.pages[j]
			if p.past == nil || !p.holds(f) {
				continue
			}
			fired[p.Name] = true
			if e := p.excess(f); !(e > 0) {
				t.Fatalf("%s fires with excess %v", p.Name, e)
			}
		}
	}
	for _, p := range b.pages {
		if p.past != nil && !fired[p.Name] && p.Name != rest {
			t.Errorf("%s never fires", p.Name)
		}
	}
}

const clubEntry = `[{"name":%q,"kind":%q,"strokes":["serve"],"levels":["elite"],"link":"legs","condition":%q,"excess":"(0.3 - legs.rise.value) / 0.1",
"evidence":["legs.rise"],"text":{"en":"Leave the ground like the club mascot.","de":"Heb ab wie das Maskottchen."},"drill":{"en":"Hop.","de":"Hüpf."},"source":"club"}]`

func TestClubFile(t *testing.T) {
	b := book(t, fmt.Appendf(nil, clubEntry, "club_serve", "correct", "legs.rise.high < 0.3"))
	s := sheet(body.Serve, figure("legs.rise", .2, .01))
	if got := names(b.Select(s, History{Player: body.Player{Level: body.Elite}}), Correct); len(got) != 1 || got[0] != "club_serve" {
		t.Errorf("%v", got)
	}
	if got := names(b.Select(s, History{Player: body.Player{Level: body.Beginner}}), Correct); len(got) != 0 {
		t.Errorf("a beginner got %v", got)
	}
	for what, file := range map[string]string{
		"unknown variable":    fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rice.high < 0.3"),
		"int against double":  fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high < 1"),
		"not a condition":     fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high"),
		"syntax":              fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high <"),
		"macro":               fmt.Sprintf(clubEntry, "club_serve", "correct", "warnings.exists(w, w == 'x')"),
		"deep nesting":        fmt.Sprintf(clubEntry, "club_serve", "correct", strings.Repeat("(", 200)+"true"+strings.Repeat(")", 200)),
		"a caution replaced":  fmt.Sprintf(clubEntry, "caution_pain", "correct", "legs.rise.high < 0.3"),
		"unfit name":          fmt.Sprintf(clubEntry, "Club Serve", "correct", "legs.rise.high < 0.3"),
		"unknown kind":        fmt.Sprintf(clubEntry, "club_serve", "praise", "legs.rise.high < 0.3"),
		"not JSON":            "{",
		"unknown field":       `[{"nam":"x"}]`,
		"same words":          strings.Replace(fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high < 0.3"), "Leave the ground like the club mascot.", "Fall into the court after the ball.", 1),
		"a language missing":  strings.Replace(fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high < 0.3"), `,"de":"Hüpf."`, "", 1),
		"evidence elsewhere":  strings.Replace(fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high < 0.3"), `["legs.rise"]`, `["lag.max"]`, 1),
		"larger than allowed": strings.Repeat(" ", maxFile+1),
	} {
		if _, err := Load(Base(), []byte(file)); err == nil {
			t.Errorf("%s was taken", what)
		}
	}
}

func FuzzLoad(f *testing.F) {
	f.Add([]byte(fmt.Sprintf(clubEntry, "club_serve", "correct", "legs.rise.high < 0.3")))
	f.Add([]byte("[]"))
	f.Fuzz(func(t *testing.T, file []byte) {
		b, err := Load(nil, file)
		if err != nil {
			return
		}
		b.Select(sheet(body.Serve, figure("legs.rise", .2, .01)), History{})
	})
}

func BenchmarkSelect(b *testing.B) {
	bk := book(b)
	r := rand.New(rand.NewPCG(1, 2))
	s := random(r)
	s.Stroke, s.StrokeConfidence = body.Forehand, 1
	for i := range s.Figures {
		s.Figures[i].Grade = measure.Good
	}
	b.ReportAllocs()
	for b.Loop() {
		bk.Select(s, History{})
	}
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		book(b)
	}
}
