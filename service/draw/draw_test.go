package draw

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
)

func ptr(x float64) *float64 { return &x }

// made is a swing with a straight run of every kind of finding.
func made() *pb.Swing {
	s := &pb.Swing{
		Id: "a", Stroke: pb.Stroke_STROKE_FOREHAND, StrokeConfidence: 0.9, DominantHand: pb.Hand_HAND_RIGHT,
		Events: []*pb.Event{
			{Kind: pb.EventKind_EVENT_KIND_CONTACT, TimeUs: 2_000_000, SdUs: 2000},
			{Kind: pb.EventKind_EVENT_KIND_FORWARD_START, TimeUs: 1_700_000, SdUs: 8000},
		},
		Phases: []*pb.Phase{
			{Kind: pb.PhaseKind_PHASE_KIND_TAKE_BACK, StartUs: 1_200_000, EndUs: 1_700_000},
			{Kind: pb.PhaseKind_PHASE_KIND_FORWARD_SWING, StartUs: 1_700_000, EndUs: 2_000_000},
		},
		Measures: []*pb.Measure{
			{Name: "lag.max", Value: ptr(72.4), Sd: ptr(2.1), Low: ptr(68.1), High: ptr(76.8), Unit: "deg", Grade: pb.Grade_GRADE_GOOD},
			{Name: "path.tip_drop", Unit: "m", Grade: pb.Grade_GRADE_NOT_MEASURABLE, Reason: "no_such_event"},
			{Name: "legs.rise", Value: ptr(0.061), Sd: ptr(0.02), Low: ptr(0.02), High: ptr(0.1), Unit: "m", Grade: pb.Grade_GRADE_ROUGH, Reason: "wider than promised"},
		},
		Cues:    []*pb.Cue{{Kind: pb.CueKind_CUE_KIND_KEEP, Text: "Good <room>.", Drill: "Again & again."}},
		Capture: &pb.Capture{Method: "one_view", FrameRateHz: 59.9, SlowMotionFactor: 4, SlowMotionSd: 0.1},
		Trace:   &pb.Trace{},
	}
	for i := -120; i <= 60; i++ {
		s.Trace.Times = append(s.Trace.Times, float32(i)/120)
	}
	n := len(s.Trace.Times)
	line := func(name string, from, by float32, sd float32) {
		x := &pb.Trace_Series{Name: name, Unit: "m"}
		for i := range n {
			x.Values = append(x.Values, from+by*float32(i))
			if sd > 0 {
				x.Sds = append(x.Sds, sd)
			}
		}
		s.Trace.Series = append(s.Trace.Series, x)
	}
	line("racket_speed.tip", 0, 0.1, 0.5)
	line("shoulder_turn", 90, -0.5, 0)
	for i, name := range []string{"left_hip", "right_hip", "left_knee", "right_knee", "left_ankle", "right_ankle", "hand", "tip", "nose", "left_shoulder", "right_shoulder"} {
		line(name+".x", 0, 0.001, 0)
		line(name+".y", float32(i)*0.1, 0, 0)
		line(name+".z", 0.1*float32(i%2), 0, 0)
	}
	return s
}

// wellFormed parses a picture as XML and fails on numbers that are none.
func wellFormed(t *testing.T, svg string) {
	t.Helper()
	if strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
		t.Errorf("holds a number that is none: %.300s", svg)
	}
	d := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			return
		} else if err != nil {
			t.Fatalf("%v: %.300s", err, svg)
		}
	}
}

func TestPlotShowsItsBand(t *testing.T) {
	for _, c := range []struct {
		series string
		band   bool
	}{{"racket_speed.tip", true}, {"shoulder_turn", false}} {
		var out bytes.Buffer
		if err := Plot(&out, made(), c.series); err != nil {
			t.Fatal(err)
		}
		wellFormed(t, out.String())
		if got := strings.Contains(out.String(), `class="band first"`); got != c.band {
			t.Errorf("%s: band %v, want %v", c.series, got, c.band)
		}
	}
	err := Plot(io.Discard, made(), "no.such")
	if err == nil || !strings.Contains(err.Error(), "racket_speed.tip, shoulder_turn") || strings.Contains(err.Error(), "tip.x") {
		t.Errorf("an unknown series answers %v", err)
	}
}

// numbersOf returns the numbers of an attribute's first appearance in an element of a class.
func lineX(t *testing.T, svg, class string) float64 {
	t.Helper()
	m := regexp.MustCompile(`<line x1="([-\d.]+)"[^>]*class="` + class + `"`).FindStringSubmatch(svg)
	if m == nil {
		t.Fatalf("no line of class %q in %s", class, svg)
	}
	x, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

func TestWhiskerHoldsZeroAndOrder(t *testing.T) {
	for _, c := range []struct{ v, low, high float64 }{{10, 8, 12}, {-10, -12, -8}, {0.1, -1, 1.2}, {0, 0, 0}} {
		svg := whisker(c.v, c.low, c.high, false)
		wellFormed(t, svg)
		low, v := lineX(t, svg, "span"), lineX(t, svg, "value")
		if v < low-0.1 || low < 0 || v > 200 {
			t.Errorf("%+v: interval from %v, value at %v", c, low, v)
		}
	}
}

func TestGapLeansItsWay(t *testing.T) {
	if x := lineX(t, gap(5, 1, 10), "value"); math.Abs(x-145) > 0.1 { // 100 + 90·5/10
		t.Errorf("half the scale is at %v", x)
	}
	if x := lineX(t, gap(-5, 1, 10), "value"); math.Abs(x-55) > 0.1 {
		t.Errorf("minus half the scale is at %v", x)
	}
}

func TestAmounts(t *testing.T) {
	for _, c := range []struct {
		v, sd      float64
		unit, want string
	}{
		{72.44, 2.13, "deg", "72.4 ± 2.1°"},
		{0.0612, 0.021, "m", "6.1 ± 2.1 cm"},
		{-0.0612, 0.021, "m", "−6.1 ± 2.1 cm"},
		{1.234, 0.056, "m", "1.234 ± 0.056 m"},
		{0.2392, 0.0058, "s", "239.2 ± 5.8 ms"},
		{-0.001, 2, "deg", "0.0 ± 2.0°"},
		{31.43, 12, "m/s", "31 ± 12 m/s"},
		{0.8, 0.1, "1", "0.80 ± 0.10"},
	} {
		if got := plusMinus(c.v, c.sd, c.unit); got != c.want {
			t.Errorf("%v ± %v %s: %q, want %q", c.v, c.sd, c.unit, got, c.want)
		}
	}
}

func TestReport(t *testing.T) {
	var out bytes.Buffer
	r := Report{Title: "a <b> & c", Clip: &pb.AnalyzeClipResponse{Swings: []*pb.Swing{made()}}, Titles: map[string]string{"lag.max": "largest lag"}}
	if err := r.Write(&out); err != nil {
		t.Fatal(err)
	}
	page := out.String()
	for _, want := range []string{
		"a &lt;b&gt; &amp; c", "Largest lag", "72.4 ± 2.1°", "68.1 to 76.8°", "this swing has no such moment", "Good &lt;room&gt;.",
		"slow motion × 4.00 ± 0.10", "Contact, ± 2.0 ms", "300 ± 8 ms before contact", `class="band first"`, `class="limb first"`, "rough: wider than promised",
	} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, no := range []string{"<script", "http:", "https:", "NaN", "<b>"} {
		if strings.Contains(strings.ReplaceAll(page, "http://www.w3.org/2000/svg", ""), no) {
			t.Errorf("the page holds %q", no)
		}
	}
	for _, svg := range regexp.MustCompile(`(?s)<svg.*?</svg>`).FindAllString(page, -1) {
		wellFormed(t, svg)
	}
}

func TestPairColumns(t *testing.T) {
	a, b := made(), made()
	b.DominantHand = pb.Hand_HAND_LEFT
	p := Pair{Title: "x", Reference: a, Candidate: b, Result: &pb.CompareSwingsResponse{Differences: []*pb.Difference{
		{Measure: "lag.max", Verdict: pb.Verdict_VERDICT_DIFFERENT, Difference: ptr(20), Sd: ptr(3), Unit: "deg", Text: "More lag.", Phase: pb.PhaseKind_PHASE_KIND_FORWARD_SWING},
		{Measure: "legs.rise", Verdict: pb.Verdict_VERDICT_SAME, Difference: ptr(0.01), Sd: ptr(0.03), Unit: "m"},
		{Measure: "ball.speed_in", Verdict: pb.Verdict_VERDICT_CANNOT_TELL, Reason: "no_ball", Unit: "m/s"},
		{Measure: "odd", Verdict: pb.Verdict(99)},
	}}}
	columns := p.columns()
	for i, want := range []string{"legs.rise", "lag.max", "ball.speed_in"} {
		if len(columns[i].Rows) != 1 || columns[i].Rows[0].Title != want {
			t.Errorf("column %s holds %+v, want %s", columns[i].Title, columns[i].Rows, want)
		}
	}
	var out bytes.Buffer
	if err := p.Write(&out); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"20.0 ± 3.0°", "More lag.", "no ball", "shown mirrored", `class="limb reference"`, `class="limb candidate"`} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// TestOddSwings draws what a client could send: nothing of it may fail or leave
// a number that is none in a picture.
func TestOddSwings(t *testing.T) {
	inf, nan := float32(math.Inf(1)), float32(math.NaN())
	noContact, uneven, wild, one := made(), made(), made(), made()
	noContact.Events = noContact.Events[1:]
	uneven.Trace.Series[0].Values = uneven.Trace.Series[0].Values[:3]
	uneven.Trace.Series[4].Values = nil
	for i := range wild.Trace.Times {
		wild.Trace.Series[0].Values[i], wild.Trace.Series[0].Sds[i], wild.Trace.Series[1].Values[i] = inf, nan, nan
		wild.Trace.Times[i] = nan
	}
	wild.Events[0].SdUs = math.MinInt64
	wild.Measures[0].Value, wild.Measures[0].Low, wild.Measures[0].High = ptr(math.NaN()), ptr(math.Inf(-1)), ptr(math.Inf(1))
	one.Trace.Times = one.Trace.Times[:1]
	for i, s := range []*pb.Swing{{}, {Trace: &pb.Trace{}}, noContact, uneven, wild, one} {
		r := Report{Clip: &pb.AnalyzeClipResponse{Swings: []*pb.Swing{s}}}
		if err := r.Write(io.Discard); err != nil {
			t.Errorf("%d: %v", i, err)
		}
		p := Pair{Reference: s, Candidate: made(), Result: &pb.CompareSwingsResponse{}}
		if err := p.Write(io.Discard); err != nil {
			t.Errorf("%d: %v", i, err)
		}
		from, to := span(s)
		if !(to > from) {
			t.Errorf("%d: span from %v to %v", i, from, to)
		}
		for _, svg := range plots(s, from, to) {
			wellFormed(t, string(svg))
		}
	}
}
