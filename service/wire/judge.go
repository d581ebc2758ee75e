package wire

import (
	"fmt"
	"math"
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/feed"
	"example.com/courtkin/service/practice"
)

// Comparison returns what a comparison found.
func Comparison(r compare.Result) *pb.CompareSwingsResponse {
	out := &pb.CompareSwingsResponse{Warnings: Warnings(r.Warnings), Summary: r.Summary}
	for _, d := range r.Differences {
		out.Differences = append(out.Differences, &pb.Difference{
			Measure: d.Measure, Phase: pb.PhaseKind(d.Phase),
			Reference: finite(d.Reference), Candidate: finite(d.Candidate), Difference: finite(d.Difference), Sd: finite(d.SD),
			Unit: d.Unit, Verdict: pb.Verdict(d.Verdict), Weight: d.Weight, Reason: d.Reason, Text: d.Text,
		})
	}
	for _, p := range r.Alignment {
		out.Alignment = append(out.Alignment, &pb.CompareSwingsResponse_TimePair{
			ReferenceS: float32(p.Reference), CandidateS: float32(p.Candidate),
		})
	}
	for _, c := range r.Curves {
		out.Curves = append(out.Curves, &pb.CompareSwingsResponse_CurveDifference{
			Series: c.Series, Rms: c.RMS, Largest: c.Largest, LargestAtS: float32(c.LargestAt),
			Unit: c.Unit, Verdict: pb.Verdict(c.Verdict),
		})
	}
	return out
}

// maxBaseline is the most figures of a baseline: every stroke with every measure, twice.
const maxBaseline = 2048

// Baseline checks and converts an earlier summary's figures.
func Baseline(figures []*pb.PracticeFigure, path string) ([]practice.Figure, error) {
	if len(figures) > maxBaseline {
		return nil, &LimitError{"baseline", maxBaseline, "figures"}
	}
	var bad Problems
	var out []practice.Figure
	for i, f := range figures {
		at := fmt.Sprintf("%s[%d]", path, i)
		for _, v := range []float64{f.GetMedian(), f.GetSpread(), f.GetTrendPerSwing(), f.GetTrendP(), f.GetSmallestRealChange()} {
			bad.check(finite(v) != nil, at, "numbers must be finite")
		}
		bad.check(f.GetSpread() >= 0, at+".spread", "must not be negative")
		bad.check(f.GetSmallestRealChange() >= 0, at+".smallest_real_change", "must not be negative")
		bad.check(f.GetMeasure() != "" && len(f.GetMeasure()) <= maxName, at+".measure", "must be 1 to %d bytes", maxName)
		out = append(out, practice.Figure{
			Stroke:  body.Stroke(enum(int32(f.GetStroke()), int32(body.NumStrokes)-1, at+".stroke", &bad)),
			Measure: f.GetMeasure(), Unit: f.GetUnit(), Count: f.GetCount(),
			Median: f.GetMedian(), Spread: f.GetSpread(), TrendPerSwing: f.GetTrendPerSwing(), TrendP: f.GetTrendP(),
			SmallestRealChange: f.GetSmallestRealChange(), ChangeFromBaseline: math.NaN(),
		})
	}
	return out, bad.orNil()
}

// Summary returns what a practice showed.
func Summary(s practice.Summary) *pb.SummarizePracticeResponse {
	out := &pb.SummarizePracticeResponse{
		TypicalSwingId: s.TypicalSwingID, BestSwingId: s.BestSwingID,
		Focus: Cue(s.Focus), Cautions: Cues(s.Cautions), Summary: s.Text,
	}
	for _, f := range s.Figures {
		out.Figures = append(out.Figures, &pb.PracticeFigure{
			Stroke: pb.Stroke(f.Stroke), Measure: f.Measure, Unit: f.Unit, Count: f.Count,
			Median: f.Median, Spread: f.Spread, TrendPerSwing: f.TrendPerSwing, TrendP: f.TrendP,
			SmallestRealChange: f.SmallestRealChange,
			ChangeFromBaseline: finite(f.ChangeFromBaseline), ChangeVerdict: pb.Verdict(f.ChangeVerdict),
		})
	}
	for _, c := range s.Counts {
		out.Counts = append(out.Counts, &pb.SummarizePracticeResponse_StrokeCount{Stroke: pb.Stroke(c.Stroke), Count: c.Count})
	}
	return out
}

// Ball checks and converts one feed; nil is the zero ball.
func Ball(f *pb.Feed, path string) (feed.Ball, error) {
	var bad Problems
	number := func(v, least, most float64, field string) float64 {
		bad.check(v >= least && v <= most, path+field, "must be %g to %g, not %g", least, most, v)
		return v
	}
	b := feed.Ball{
		Speed:   number(f.GetSpeedMps(), 0, 100, ".speed_mps"),
		Lateral: number(f.GetLateralM(), -50, 50, ".lateral_m"),
		Depth:   number(f.GetDepthM(), -50, 50, ".depth_m"),
		Height:  number(f.GetHeightM(), -2, 50, ".height_m"),
		Topspin: number(f.GetTopspinRps(), -200, 200, ".topspin_rps"),
	}
	if d := f.GetInterval(); d != nil {
		bad.check(d.CheckValid() == nil, path+".interval", "must be a duration")
		b.Interval = number(d.AsDuration().Seconds(), 0, 3600, ".interval")
	}
	return b, bad.orNil()
}

// Advice returns the answer to a ball machine.
func Advice(a feed.Advice) *pb.AdviseFeedResponse {
	out := &pb.AdviseFeedResponse{
		Action: pb.FeedAction(a.Action), Reason: a.Reason, Cue: Cue(a.Cue), Cautions: Cues(a.Cautions),
	}
	if a.RetryAfter > 0 {
		out.RetryAfter = duration(a.RetryAfter)
	}
	if b := a.Next; b != nil {
		out.Next = &pb.Feed{
			SpeedMps: b.Speed, LateralM: b.Lateral, DepthM: b.Depth, HeightM: b.Height, TopspinRps: b.Topspin,
			Interval: duration(b.Interval),
		}
	}
	return out
}

// duration returns s seconds to the nearest microsecond.
func duration(s float64) *durationpb.Duration {
	return durationpb.New(time.Duration(math.Round(s*1e6)) * time.Microsecond)
}
