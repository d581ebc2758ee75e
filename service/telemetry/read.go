package telemetry

import (
	"strings"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/measure"
)

func framesIn(frames []*pb.Frame, blocks []*pb.FrameBlock) int {
	n := len(frames)
	for _, b := range blocks {
		n += len(b.GetTimeStepsUs()) + 1
	}
	return n
}

// request counts the frames of a single call.
func (m *meters) request(name string, req any) {
	switch r := req.(type) {
	case *pb.AnalyzeClipRequest:
		count(m.frames, framesIn(r.GetFrames(), r.GetBlocks()), "rpc", name)
	case *pb.CheckSetupRequest:
		count(m.frames, len(r.GetFrames()), "rpc", name)
	case *pb.AdviseFeedRequest:
		count(m.frames, len(r.GetNow()), "rpc", name)
	}
}

// response counts what a single call found.
func (m *meters) response(res any) {
	switch r := res.(type) {
	case *pb.AnalyzeClipResponse:
		bad := ""
		for _, s := range r.GetSwings() {
			m.swing(s)
			if bad == "" {
				bad = badClock(s)
			}
		}
		if bad != "" {
			count(m.clocks, 1, "reason", bad)
		}
	case *pb.CheckSetupResponse:
		m.advised(r.GetAdvice())
	case *pb.AdviseFeedResponse:
		if a := word(r.GetAction().String(), "FEED_ACTION_"); a != "unspecified" {
			count(m.feeds, 1, "action", a)
		}
	}
}

// swing counts a settled swing, its figures and its cues.
func (m *meters) swing(s *pb.Swing) {
	count(m.swings, 1, "stroke", word(s.GetStroke().String(), "STROKE_"), "method", methodOf(s))
	grades, reasons := map[string]int{}, map[string]int{}
	for _, f := range s.GetMeasures() {
		grades[word(f.GetGrade().String(), "GRADE_")]++
		if f.GetGrade() == pb.Grade_GRADE_NOT_MEASURABLE {
			reasons[refusal(f.GetReason())]++
		}
	}
	for grade, n := range grades {
		if grade != "unspecified" {
			count(m.given, n, "grade", grade)
		}
	}
	for reason, n := range reasons {
		count(m.refused, n, "reason", reason)
	}
	m.advised(s.GetCues())
}

func (m *meters) advised(cues []*pb.Cue) {
	for _, c := range cues {
		if kind := word(c.GetKind().String(), "CUE_KIND_"); kind != "unspecified" {
			count(m.cues, 1, "kind", kind)
		}
	}
}

// word is an enum's value in lower case without its prefix. A number that the
// contract does not have is unspecified.
func word(name, prefix string) string {
	w, ok := strings.CutPrefix(name, prefix)
	if !ok {
		return "unspecified"
	}
	return strings.ToLower(w)
}

func methodOf(s *pb.Swing) string {
	switch m := s.GetCapture().GetMethod(); m {
	case "world", "two_view", "one_view", "image_plane":
		return m
	}
	return "unknown"
}

// refusals are the codes before the colon of a reason; any other is "other".
var refusals = map[string]bool{
	"no_such_event": true, "no_racket_points": true, "no_ball": true, "no_body_points": true, "no_head_points": true,
	"no_stature": true, "no_scale": true, "undefined": true, "too_wide": true, "no_error": true,
}

func refusal(reason string) string {
	code, _, _ := strings.Cut(reason, ":")
	if refusals[code] {
		return code
	}
	return "other"
}

// badClock says how a swing's clock failed, "" when it did not: figures that
// hang on it say so.
func badClock(s *pb.Swing) string {
	for _, f := range s.GetMeasures() {
		switch {
		case strings.Contains(f.GetReason(), measure.ReasonClock):
			return "unverified"
		case strings.Contains(f.GetReason(), "contradict"):
			return "contradicted"
		}
	}
	return ""
}
