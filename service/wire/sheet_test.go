package wire

import (
	"math"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

func goodSheet() *measure.Sheet {
	nan := math.NaN()
	return &measure.Sheet{
		ID: "abc", Stroke: body.SliceBackhand, StrokeConfidence: 0.8, Hand: body.LeftHanded, StartUS: 5_000_000,
		Events: []phase.Event{
			{Kind: phase.TurnStart, Time: 0.25, SD: 0.01},
			{Kind: phase.Contact, Time: 1.234567, SD: 0.0005, Provisional: true},
		},
		Phases: []phase.Phase{{Kind: phase.Ready, Start: 0, End: 0.25}, {Kind: phase.ForwardSwing, Start: 1, End: 1.234567}},
		Figures: []measure.Figure{
			{Name: "lag.max", Value: 60, SD: 2, Low: 56, High: 64, Unit: "deg", Grade: measure.Good},
			{Name: "lag.contact", Value: nan, SD: nan, Low: nan, High: nan, Unit: "deg", Grade: measure.NotMeasurable, Reason: "no racket"},
		},
		Warnings:   []measure.Warning{{Code: "clock_unverified", Text: "…"}},
		Trace:      &measure.Trace{Times: []float32{-1, 0, 1}, Series: []measure.Series{{Name: "lag.angle", Unit: "deg", Values: []float32{1, 2, 3}}}},
		FirstFrame: 3, LastFrame: 99,
		Capture: measure.Capture{View: camera.ViewBehind, FrameRate: 60, SlowMotion: 1, Method: "one_view", ScaleSD: 0.02},
	}
}

// TestSheetComesBack: what the service sends, a client may send back, and
// nothing is lost on the way.
func TestSheetComesBack(t *testing.T) {
	sent := Swing(goodSheet())
	sheet, err := Sheet(sent, "reference")
	if err != nil {
		t.Fatal(err)
	}
	if again := Swing(sheet); !proto.Equal(sent, again) {
		t.Errorf("sent  %v\nagain %v", sent, again)
	}
	if sheet.Stroke != body.SliceBackhand || sheet.Hand != body.LeftHanded || sheet.StartUS != 5_000_000 {
		t.Errorf("sheet %+v", sheet)
	}
	e, ok := sheet.Event(phase.Contact)
	if !ok || !near(e.Time, 1.234567, 1e-9) || !near(e.SD, 0.0005, 1e-9) || !e.Provisional {
		t.Errorf("contact %+v", e)
	}
	if f, _ := sheet.Figure("lag.contact"); f.Known() || !math.IsNaN(f.Value) || f.Reason != "no racket" {
		t.Errorf("figure %+v", f)
	}
	if m := sent.Measures[1]; m.Value != nil || m.Sd != nil || m.Low != nil || m.High != nil {
		t.Errorf("a measure without value has %v", m)
	}
}

func TestSheetNamesTheUnfitField(t *testing.T) {
	number := func(v float64) *float64 { return &v }
	cases := []struct {
		field string
		spoil func(*pb.Swing)
	}{
		{"r.stroke", func(s *pb.Swing) { s.Stroke = 9 }},
		{"r.stroke_confidence", func(s *pb.Swing) { s.StrokeConfidence = math.NaN() }},
		{"r.dominant_hand", func(s *pb.Swing) { s.DominantHand = 7 }},
		{"r.events", func(s *pb.Swing) { s.Events = make([]*pb.Event, maxEvents+1) }},
		{"r.events[1].kind", func(s *pb.Swing) { s.Events[1].Kind = 99 }},
		{"r.events[1].time_us", func(s *pb.Swing) { s.Events[1].TimeUs = math.MaxInt64 }},
		{"r.events[0].sd_us", func(s *pb.Swing) { s.Events[0].SdUs = -1 }},
		{"r.phases[0].end_us", func(s *pb.Swing) { s.Phases[0].EndUs = s.Phases[0].StartUs - 1 }},
		{"r.measures[0].name", func(s *pb.Swing) { s.Measures[0].Name = "" }},
		{"r.measures[0].value", func(s *pb.Swing) { s.Measures[0].Value = nil }},
		{"r.measures[0].value", func(s *pb.Swing) { s.Measures[0].Value = number(math.Inf(1)) }},
		{"r.measures[0].sd", func(s *pb.Swing) { s.Measures[0].Sd = number(-1) }},
		{"r.measures[0].low", func(s *pb.Swing) { s.Measures[0].Low = number(70) }},
		{"r.measures[1].grade", func(s *pb.Swing) { s.Measures[1].Grade = 8 }},
		{"r.trace.times[2]", func(s *pb.Swing) { s.Trace.Times = []float32{0, 1, 1} }},
		{"r.trace.series[0].values", func(s *pb.Swing) { s.Trace.Series[0].Values = nil }},
		{"r.trace.series[0]", func(s *pb.Swing) { s.Trace.Series[0].Values[1] = float32(math.Inf(1)) }},
		{"r.capture", func(s *pb.Swing) { s.Capture.FrameRateHz = math.NaN() }},
	}
	for _, c := range cases {
		s := Swing(goodSheet())
		c.spoil(s)
		_, err := Sheet(s, "r")
		wantField(t, err, c.field)
	}
	_, err := Sheet(nil, "candidate")
	wantField(t, err, "candidate")
}

// FuzzSheet: no swing that a client sends may panic, and one that passes must
// hold finite figures.
func FuzzSheet(f *testing.F) {
	raw, err := proto.Marshal(Swing(goodSheet()))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	f.Fuzz(func(t *testing.T, raw []byte) {
		m := &pb.Swing{}
		if proto.Unmarshal(raw, m) != nil {
			return
		}
		s, err := Sheet(m, "swing")
		if err != nil {
			return
		}
		for _, x := range s.Figures {
			if x.Known() && finite(x.Value+x.SD+x.Low+x.High) == nil && !(math.Abs(x.Value) > 1e300) {
				t.Fatalf("figure %+v", x)
			}
		}
	})
}
