package wire

import (
	"fmt"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// What a swing that comes back from a client may hold: several times what the
// service itself sends.
const (
	maxEvents   = 64
	maxMeasures = 1024
	maxWarnings = 256
	maxSamples  = 16_384
	maxSeries   = 256
)

// Sheet checks a swing that a client sends back and returns it as a sheet; path
// is its place in the request. Events count from the swing's earliest instant.
// The error is of type Problems.
func Sheet(s *pb.Swing, path string) (*measure.Sheet, error) {
	if s == nil {
		return nil, Problems{{path, "is required"}}
	}
	var bad Problems
	checkSizes(s, path, &bad)
	if len(bad) > 0 {
		return nil, bad
	}
	out := &measure.Sheet{
		ID:               s.GetId(),
		Stroke:           body.Stroke(enum(int32(s.GetStroke()), int32(body.NumStrokes)-1, path+".stroke", &bad)),
		StrokeConfidence: s.GetStrokeConfidence(),
		Hand:             body.Hand(enum(int32(s.GetDominantHand()), int32(body.LeftHanded), path+".dominant_hand", &bad)),
		StartUS:          earliest(s),
		Trace:            sheetTrace(s.GetTrace(), path+".trace", &bad),
		FirstFrame:       s.GetFirstFrame(),
		LastFrame:        s.GetLastFrame(),
		Capture:          sheetCapture(s.GetCapture(), path+".capture", &bad),
	}
	bad.check(out.StrokeConfidence >= 0 && out.StrokeConfidence <= 1, path+".stroke_confidence", "must be 0 to 1")
	sheetTimes(s, out, path, &bad)
	for i, m := range s.GetMeasures() {
		out.Figures = append(out.Figures, figure(m, fmt.Sprintf("%s.measures[%d]", path, i), &bad))
	}
	for _, w := range s.GetWarnings() {
		out.Warnings = append(out.Warnings, measure.Warning{Code: w.GetCode(), Text: w.GetText()})
	}
	return out, bad.orNil()
}

// Sheets converts a list of swings, at most `most` of them.
func Sheets(swings []*pb.Swing, path string, most int) ([]*measure.Sheet, error) {
	if len(swings) > most {
		return nil, &LimitError{"swings_per_request", int64(most), "swings"}
	}
	var out []*measure.Sheet
	for i, s := range swings {
		sheet, err := Sheet(s, fmt.Sprintf("%s[%d]", path, i))
		if err != nil {
			return nil, err
		}
		out = append(out, sheet)
	}
	return out, nil
}

func checkSizes(s *pb.Swing, path string, bad *Problems) {
	for _, l := range [...]struct {
		field     string
		got, most int
	}{
		{".events", len(s.GetEvents()), maxEvents},
		{".phases", len(s.GetPhases()), maxEvents},
		{".measures", len(s.GetMeasures()), maxMeasures},
		{".warnings", len(s.GetWarnings()), maxWarnings},
		{".trace.times", len(s.GetTrace().GetTimes()), maxSamples},
		{".trace.series", len(s.GetTrace().GetSeries()), maxSeries},
	} {
		bad.check(l.got <= l.most, path+l.field, "at most %d, not %d", l.most, l.got)
	}
}

// earliest returns the first instant that the swing names, 0 when it names none.
func earliest(s *pb.Swing) int64 {
	first, any := int64(math.MaxInt64), false
	for _, p := range s.GetPhases() {
		first, any = min(first, p.GetStartUs()), true
	}
	for _, e := range s.GetEvents() {
		first, any = min(first, e.GetTimeUs()), true
	}
	if !any {
		return 0
	}
	return first
}

// sheetTimes fills in events and phases, in seconds from the start.
func sheetTimes(s *pb.Swing, out *measure.Sheet, path string, bad *Problems) {
	seconds := func(us int64, at string) float64 {
		bad.check(us >= -maxTimeUS && us <= maxTimeUS, at, "is out of range")
		return float64(us-out.StartUS) / 1e6
	}
	for i, e := range s.GetEvents() {
		at := fmt.Sprintf("%s.events[%d]", path, i)
		bad.check(e.GetSdUs() >= 0, at+".sd_us", "must not be negative")
		out.Events = append(out.Events, phase.Event{
			Kind:        phase.EventKind(enum(int32(e.GetKind()), int32(phase.NumEvents)-1, at+".kind", bad)),
			Time:        seconds(e.GetTimeUs(), at+".time_us"),
			SD:          float64(e.GetSdUs()) / 1e6,
			Provisional: e.GetCertainty() == pb.Certainty_CERTAINTY_PROVISIONAL,
		})
	}
	for i, p := range s.GetPhases() {
		at := fmt.Sprintf("%s.phases[%d]", path, i)
		bad.check(p.GetEndUs() >= p.GetStartUs(), at+".end_us", "must not be before start_us")
		out.Phases = append(out.Phases, phase.Phase{
			Kind:  phase.Kind(enum(int32(p.GetKind()), int32(phase.NumPhases)-1, at+".kind", bad)),
			Start: seconds(p.GetStartUs(), at+".start_us"),
			End:   seconds(p.GetEndUs(), at+".end_us"),
		})
	}
}

// figure converts a measure; a graded one must have finite numbers.
func figure(m *pb.Measure, path string, bad *Problems) measure.Figure {
	f := measure.Figure{
		Name: m.GetName(), Unit: m.GetUnit(), Reason: m.GetReason(),
		Value: math.NaN(), SD: math.NaN(), Low: math.NaN(), High: math.NaN(),
		Grade: measure.Grade(enum(int32(m.GetGrade()), int32(measure.NotMeasurable), path+".grade", bad)),
	}
	bad.check(f.Name != "" && len(f.Name) <= maxName, path+".name", "must be 1 to %d bytes", maxName)
	if !f.Known() {
		return f
	}
	number := func(v *float64, field string) float64 {
		if v == nil || finite(*v) == nil {
			bad.add(path+field, "must be a finite number for a graded measure")
			return 0
		}
		return *v
	}
	f.Value, f.SD = number(m.Value, ".value"), number(m.Sd, ".sd")
	f.Low, f.High = number(m.Low, ".low"), number(m.High, ".high")
	bad.check(f.SD >= 0, path+".sd", "must not be negative")
	bad.check(f.Low <= f.High, path+".low", "must not be above high")
	return f
}

func sheetCapture(c *pb.Capture, path string, bad *Problems) measure.Capture {
	out := measure.Capture{
		View:         camera.Viewpoint(enum(int32(c.GetViewpoint()), int32(camera.ViewLeft), path+".viewpoint", bad)),
		FrameRate:    c.GetFrameRateHz(),
		SlowMotion:   c.GetSlowMotionFactor(),
		SlowMotionSD: c.GetSlowMotionSd(),
		Method:       c.GetMethod(),
		ScaleSD:      c.GetScaleSd(),
	}
	for _, v := range []float64{out.FrameRate, out.SlowMotion, out.SlowMotionSD, out.ScaleSD} {
		bad.check(v >= 0 && v <= math.MaxFloat32, path, "numbers must be finite and not negative")
	}
	return out
}

// sheetTrace converts curves. Times must rise; values may be NaN where a curve
// has a gap, and must not be infinite.
func sheetTrace(t *pb.Trace, path string, bad *Problems) *measure.Trace {
	if t == nil {
		return nil
	}
	out := &measure.Trace{Times: t.GetTimes()}
	last := float32(math.Inf(-1))
	for i, at := range out.Times {
		bad.check(at > last && within(at, math.MaxFloat32), fmt.Sprintf("%s.times[%d]", path, i), "must be finite and rise")
		last = at
		if len(*bad) > 0 {
			return nil
		}
	}
	for i, s := range t.GetSeries() {
		at := fmt.Sprintf("%s.series[%d]", path, i)
		bad.check(len(s.GetValues()) == len(out.Times), at+".values", "must have %d numbers as times has", len(out.Times))
		bad.check(len(s.GetSds()) == 0 || len(s.GetSds()) == len(out.Times), at+".sds", "must have 0 or %d numbers", len(out.Times))
		bad.check(noneInfinite(s.GetValues()) && noneInfinite(s.GetSds()), at, "must not be infinite")
		out.Series = append(out.Series, measure.Series{Name: s.GetName(), Unit: s.GetUnit(), Values: s.GetValues(), SDs: s.GetSds()})
	}
	return out
}

func noneInfinite(v []float32) bool {
	for _, x := range v {
		if math.IsInf(float64(x), 0) {
			return false
		}
	}
	return true
}
