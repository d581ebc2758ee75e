package compare

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
)

func TestHeaviestFirstAndEveryTextSaid(t *testing.T) {
	r := compared(t, made(nil, nil), made(nil, map[string]float64{"lag.max": 40, "turn.shoulders.max": -40}), Default())
	for i, d := range r.Differences {
		if i > 0 && d.Weight > r.Differences[i-1].Weight || d.Weight < 0 || d.Weight > 1 {
			t.Errorf("weight %v at %d", d.Weight, i)
		}
		if d.Text == "" || strings.Contains(d.Text, "%!") || strings.Contains(d.Text, "NaN") {
			t.Errorf("%s: text %q", d.Measure, d.Text)
		}
		if (d.Verdict == Different) != (d.Weight > otherWeight) {
			t.Errorf("%s: %v with weight %v", d.Measure, d.Verdict, d.Weight)
		}
	}
	if !strings.Contains(r.Summary, "racket lag") {
		t.Errorf("summary %q", r.Summary)
	}
}

func TestTableNamesTheCatalog(t *testing.T) {
	for _, tr := range traits {
		i, ok := measure.Index(tr.name)
		if !ok {
			t.Errorf("%s is not in the catalog", tr.name)
			continue
		}
		if m := marginByUnit[measure.Catalog()[i].Unit]; m == 0 {
			t.Errorf("%s: no margin for unit %q", tr.name, measure.Catalog()[i].Unit)
		}
	}
	for _, row := range measure.Catalog() {
		if _, ok := traitOf[row.Name]; !ok && row.Name != measure.Stature {
			t.Errorf("%s is in the catalog and has no trait", row.Name)
		}
	}
}

// TestSidesAreNamed: what stands on the other side of its level is said so.
func TestSidesAreNamed(t *testing.T) {
	for _, c := range []struct {
		measure string
		change  float64
		want    string
	}{
		{"spacing.clearance", -.5, "(here jammed, there free of the body)"},
		{"elbow.hitting.contact", -35, "(here straight, there bent)"},
		{"path.out_angle", -30, "(here from outside to inside, there from inside to outside)"},
		{"path.tip_drop", -.7, "(here the tip not below the ball, there the tip below the ball)"},
		{"spacing.clearance", -.1, "closer to the hip than in the reference."},
	} {
		d := find(t, compared(t, made(nil, nil), made(nil, map[string]float64{c.measure: c.change}), Default()), c.measure)
		if d.Verdict != Different || !strings.Contains(d.Text, c.want) {
			t.Errorf("%v: %q lacks %q", d.Verdict, d.Text, c.want)
		}
	}
}

// TestBothLanguagesSayTheSame: every format takes the same verbs in the same
// order, every trait has its words, and nothing comes out unfilled.
func TestBothLanguagesSayTheSame(t *testing.T) {
	verbs := regexp.MustCompile(`%[-+.0-9]*[a-z]`)
	for key, e := range english.formats {
		g, ok := german.formats[key]
		if !ok || !slices.Equal(verbs.FindAllString(e, -1), verbs.FindAllString(g, -1)) {
			t.Errorf("%s: %q against %q", key, e, g)
		}
	}
	for _, tr := range traits {
		w := german.spoken(tr)
		if w.noun == tr.noun || strings.Count(w.more, "%s") != 1 || strings.Count(w.less, "%s") != 1 || strings.Count(tr.more, "%s") != 1 || strings.Count(tr.less, "%s") != 1 {
			t.Errorf("%s: %q %q %q", tr.name, w.noun, w.more, w.less)
		}
	}
	opt := Default()
	opt.Locale = "de-AT"
	change := map[string]float64{"lag.tip_path": .55, "lag.tip_wrap": .5, "contact.height": .4, "spacing.clearance": -.5, "racket_speed.tip.contact": 9}
	b := withTrace(made(nil, change), nil, identity)
	b.Capture.View, b.Capture.Method, b.Capture.FrameRate = camera.ViewRight, "one_view", 60
	b.Figures[3].Grade = measure.NotMeasurable
	r := compared(t, withTrace(made(nil, nil), nil, identity), b, opt)
	texts := []string{r.Summary}
	for _, d := range r.Differences {
		texts = append(texts, d.Text, d.Reason)
	}
	for _, w := range r.Warnings {
		texts = append(texts, w.Text)
	}
	for _, s := range texts {
		if strings.Contains(s, "%!") || strings.Contains(s, " the ") || strings.Contains(s, "reference") {
			t.Errorf("%q", s)
		}
	}
	if d := find(t, r, "spacing.clearance"); !strings.Contains(d.Text, "hier eingeklemmt, dort frei vom Körper") || !strings.Contains(d.Text, "50 cm näher") {
		t.Errorf("%q", d.Text)
	}
}

// TestLevelsNameTheirSide: a figure below 0 is told by its side, not by its sign; one that
// is missing is told in words, not by a code.
func TestLevelsNameTheirSide(t *testing.T) {
	shift := map[string]float64{"lag.tip_wrap": -.34, "legs.stance": -64, "lag.contact": -21, "turn.separation.contact": -19}
	a, b := made(nil, shift), made(nil, shift)
	for _, s := range []*measure.Sheet{a, b} {
		s.Figures = append(s.Figures, measure.Figure{Name: "serve.toss_height", Unit: "m", Value: absent, SD: absent, Grade: measure.NotMeasurable, Reason: measure.ReasonNoEvent})
	}
	for locale, want := range map[string]map[string]string{
		"": {
			"lag.tip_wrap": "24 cm (on the hitting side) here", "legs.stance": "44° (open) here", "lag.contact": "6° (tip ahead of the hand)",
			"turn.separation.contact": "11° (ahead of the hips)", "serve.toss_height": "one of its events is not in the swing.",
		},
		"de": {"legs.stance": "44° (offen) hier", "serve.toss_height": "eines seiner Ereignisse gibt es in dem Schlag nicht."},
	} {
		opt := Default()
		opt.Locale = locale
		r := compared(t, a, b, opt)
		for name, words := range want {
			if d := find(t, r, name); !strings.Contains(d.Text, words) {
				t.Errorf("%q lacks %q", d.Text, words)
			}
		}
		if !strings.Contains(r.Summary, "1") || strings.Contains(r.Summary, "named") {
			t.Errorf("summary of equal swings: %q", r.Summary)
		}
	}
	if got, want := Say("racket_speed.tip.contact", "m/s", -1.23, "de"), "1,2 m/s"; !strings.Contains(got, want) {
		t.Errorf("%q lacks %q", got, want)
	}
}
