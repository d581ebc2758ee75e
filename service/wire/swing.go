package wire

import (
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
)

// Swing returns a sheet as the contract's message, without cues.
func Swing(s *measure.Sheet) *pb.Swing {
	out := &pb.Swing{
		Id:               s.ID,
		Stroke:           pb.Stroke(s.Stroke),
		StrokeConfidence: s.StrokeConfidence,
		DominantHand:     pb.Hand(s.Hand),
		Warnings:         Warnings(s.Warnings),
		Trace:            trace(s.Trace),
		FirstFrame:       s.FirstFrame,
		LastFrame:        s.LastFrame,
		Capture:          Capture(s.Capture),
	}
	for _, e := range s.Events {
		out.Events = append(out.Events, event(s.StartUS, e))
	}
	for _, p := range s.Phases {
		out.Phases = append(out.Phases, &pb.Phase{
			Kind: pb.PhaseKind(p.Kind), StartUs: micros(s.StartUS, p.Start), EndUs: micros(s.StartUS, p.End),
		})
	}
	for _, f := range s.Figures {
		out.Measures = append(out.Measures, Measure(f))
	}
	return out
}

// micros returns the instant t seconds after startUS, to the nearest microsecond.
func micros(startUS int64, t float64) int64 { return startUS + int64(math.Round(t*1e6)) }

func event(startUS int64, e phase.Event) *pb.Event {
	certainty := pb.Certainty_CERTAINTY_FINAL
	if e.Provisional {
		certainty = pb.Certainty_CERTAINTY_PROVISIONAL
	}
	return &pb.Event{
		Kind: pb.EventKind(e.Kind), TimeUs: micros(startUS, e.Time), SdUs: micros(0, e.SD), Certainty: certainty,
	}
}

// LiveEvent returns a provisional event, or its withdrawal.
func LiveEvent(e swing.LiveEvent) *pb.Event {
	certainty := pb.Certainty_CERTAINTY_PROVISIONAL
	if e.Withdrawn {
		certainty = pb.Certainty_CERTAINTY_WITHDRAWN
	}
	return &pb.Event{Kind: pb.EventKind(e.Kind), TimeUs: e.TimeUS, SdUs: e.SDUS, Certainty: certainty}
}

// Reading returns a display's reading; figures that are NaN stay unset.
func Reading(r swing.Reading) *pb.StreamPracticeResponse_Reading {
	return &pb.StreamPracticeResponse_Reading{
		TimeUs:          r.TimeUS,
		Phase:           pb.PhaseKind(r.Phase),
		RacketSpeedMps:  finite(r.RacketSpeed),
		ShoulderTurnDeg: finite(r.ShoulderTurn),
		LagDeg:          finite(r.Lag),
		Grade:           pb.Grade(r.Grade),
	}
}

// Measure returns a figure; its numbers are unset when it has no value.
func Measure(f measure.Figure) *pb.Measure {
	m := &pb.Measure{Name: f.Name, Unit: f.Unit, Grade: pb.Grade(f.Grade), Reason: f.Reason}
	if f.Known() {
		m.Value, m.Sd, m.Low, m.High = finite(f.Value), finite(f.SD), finite(f.Low), finite(f.High)
	}
	return m
}

// finite returns v, or nil when it is NaN or infinite.
func finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// Capture returns how the figures were had.
func Capture(c measure.Capture) *pb.Capture {
	return &pb.Capture{
		Viewpoint:        pb.Viewpoint(c.View),
		FrameRateHz:      c.FrameRate,
		SlowMotionFactor: c.SlowMotion,
		SlowMotionSd:     c.SlowMotionSD,
		Method:           c.Method,
		ScaleSd:          c.ScaleSD,
	}
}

// Warning returns one warning.
func Warning(w measure.Warning) *pb.Warning { return &pb.Warning{Code: w.Code, Text: w.Text} }

// Warnings returns a list of warnings.
func Warnings(ws []measure.Warning) []*pb.Warning {
	var out []*pb.Warning
	for _, w := range ws {
		out = append(out, Warning(w))
	}
	return out
}

func trace(t *measure.Trace) *pb.Trace {
	if t == nil {
		return nil
	}
	out := &pb.Trace{Times: t.Times}
	for _, s := range t.Series {
		out.Series = append(out.Series, &pb.Trace_Series{Name: s.Name, Unit: s.Unit, Values: s.Values, Sds: s.SDs})
	}
	return out
}

// Cue returns one cue; nil for nil.
func Cue(c *cue.Cue) *pb.Cue {
	if c == nil {
		return nil
	}
	return &pb.Cue{
		Name: c.Name, Kind: pb.CueKind(c.Kind), Text: c.Text, Drill: c.Drill,
		Priority: c.Priority, Confidence: c.Confidence, Evidence: c.Evidence,
	}
}

// Cues returns a list of cues.
func Cues(cs []cue.Cue) []*pb.Cue {
	var out []*pb.Cue
	for i := range cs {
		out = append(out, Cue(&cs[i]))
	}
	return out
}
