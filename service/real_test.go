package service

import (
	"math"
	"slices"
	"strings"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// rally is a made practice of a few strokes in condition W, as a client would
// send it, with traces.
func rally(t testing.TB, strokes ...body.Stroke) *pb.AnalyzeClipRequest {
	t.Helper()
	m := synth.NewPractice(synth.Practice{Spec: synth.Spec{Seed: 3, Hand: body.RightHanded}, Strokes: strokes, Plain: true})
	clip := synth.Shoot(m, synth.World, synth.View{Layout: synth.COCO17}, 3)
	clip.Setup.Trace = true
	req := &pb.AnalyzeClipRequest{Setup: wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17)}
	for i := range clip.Frames {
		req.Frames = append(req.Frames, wire.AsFrame(&clip.Frames[i], body.COCO17))
	}
	return req
}

// TestLiveEqualsRecorded: the swings of a stream are those of the same frames
// sent as a clip, cues included, however the frames are cut into batches.
func TestLiveEqualsRecorded(t *testing.T) {
	client := dial(t, Config{})
	req := rally(t, body.Forehand, body.TwoHandedBackhand)
	whole, err := client.AnalyzeClip(within(t), req)
	if err != nil {
		t.Fatal(err)
	}
	if len(whole.Swings) != 2 {
		t.Fatalf("%d swings, want 2", len(whole.Swings))
	}
	for _, size := range []int{1, 7, 4000} {
		messages := []*pb.StreamPracticeRequest{open(req.Setup)}
		for part := range slices.Chunk(req.Frames, size) {
			messages = append(messages, batch(part))
		}
		a := converse(t, client, append(messages, finish(uint32(len(req.Frames))))...)
		if a.err != nil {
			t.Fatal(a.err)
		}
		got := a.swings()
		if len(got) != len(whole.Swings) {
			t.Fatalf("batches of %d: %d swings, want %d", size, len(got), len(whole.Swings))
		}
		for i := range got {
			if !proto.Equal(got[i], whole.Swings[i]) {
				t.Errorf("batches of %d: swing %d differs", size, i)
			}
		}
	}
}

// TestBlocksAreAsGoodAsFrames: the figures of a clip sent in blocks differ from
// those of plain frames by less than their own errors.
func TestBlocksAreAsGoodAsFrames(t *testing.T) {
	client := dial(t, Config{})
	req := rally(t, body.Forehand)
	plain, err := client.AnalyzeClip(within(t), req)
	if err != nil {
		t.Fatal(err)
	}
	packed := &pb.AnalyzeClipRequest{Setup: req.Setup}
	for part := range slices.Chunk(req.Frames, 8) {
		b, err := wire.Block(part, false)
		if err != nil {
			t.Fatal(err)
		}
		packed.Blocks = append(packed.Blocks, b)
	}
	block, err := client.AnalyzeClip(within(t), packed)
	if err != nil {
		t.Fatal(err)
	}
	if len(plain.Swings) != 1 || len(block.Swings) != 1 {
		t.Fatalf("%d and %d swings, want 1", len(plain.Swings), len(block.Swings))
	}
	compared := 0
	for i, m := range plain.Swings[0].Measures {
		o := block.Swings[0].Measures[i]
		if m.Value == nil || o.Value == nil {
			continue
		}
		compared++
		// 1 mm steps (sd 0.3 mm) against 5 mm noise: far inside one sd of each figure.
		if d := o.GetValue() - m.GetValue(); d > m.GetSd() || d < -m.GetSd() {
			t.Errorf("%s: %g ± %g plain, %g in blocks", m.Name, m.GetValue(), m.GetSd(), o.GetValue())
		}
	}
	if compared < 20 {
		t.Errorf("only %d figures compared", compared)
	}
}

// TestJudgementOfMeasuredSwings sends analysed swings back to the calls that judge.
func TestJudgementOfMeasuredSwings(t *testing.T) {
	client := dial(t, Config{})
	res, err := client.AnalyzeClip(within(t), rally(t, body.Forehand, body.Forehand))
	if err != nil {
		t.Fatal(err)
	}
	if len(res.Swings) != 2 {
		t.Fatalf("%d swings, want 2", len(res.Swings))
	}
	t.Run("compare", func(t *testing.T) {
		c, err := client.CompareSwings(within(t), &pb.CompareSwingsRequest{Reference: res.Swings[0], Candidate: res.Swings[0]})
		if err != nil {
			t.Fatal(err)
		}
		if len(c.Differences) < 20 || len(c.Curves) == 0 || len(c.Alignment) < 2 {
			t.Errorf("%d differences, %d curves, %d knots", len(c.Differences), len(c.Curves), len(c.Alignment))
		}
		for _, d := range c.Differences {
			if d.Verdict == pb.Verdict_VERDICT_DIFFERENT || d.GetDifference() != 0 {
				t.Errorf("a swing differs from itself: %v", d)
			}
		}
		german, err := client.CompareSwings(within(t), &pb.CompareSwingsRequest{Reference: res.Swings[0], Candidate: res.Swings[0], Locale: "de-CH"})
		if err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(german.Summary, "Wert") || strings.Contains(c.Summary, "Wert") {
			t.Errorf("de: %q, en: %q", german.Summary, c.Summary)
		}
		scaled, err := client.CompareSwings(within(t), &pb.CompareSwingsRequest{
			Reference: res.Swings[0], Candidate: res.Swings[0],
			ReferencePlayer: &pb.Player{StatureM: 1.8}, CandidatePlayer: &pb.Player{StatureM: 1.5},
		})
		if err != nil {
			t.Fatal(err)
		}
		// Points in metres tell the stature by themselves; a swing without the figure does not.
		bare := proto.CloneOf(res.Swings[0])
		bare.Measures = slices.DeleteFunc(bare.Measures, func(m *pb.Measure) bool { return m.Name == "body.stature" })
		unscaled, err := client.CompareSwings(within(t), &pb.CompareSwingsRequest{Reference: res.Swings[0], Candidate: bare})
		if err != nil {
			t.Fatal(err)
		}
		if told(c, "lengths_not_scaled") || !told(unscaled, "lengths_not_scaled") || told(scaled, "lengths_not_scaled") {
			t.Errorf("with the figure %v, without %v, with players %v", c.Warnings, unscaled.Warnings, scaled.Warnings)
		}
		for _, d := range scaled.Differences { // the smaller player's lengths count for more
			if d.Unit == "m" && d.Candidate != nil && math.Abs(d.GetCandidate()-1.2*d.GetReference()) > 1e-9 {
				t.Errorf("%s: %g of 1.5 m is %g of 1.8 m", d.Measure, d.GetReference(), d.GetCandidate())
			}
		}
		_, err = client.CompareSwings(within(t), &pb.CompareSwingsRequest{Reference: res.Swings[0], Candidate: res.Swings[0], CandidatePlayer: &pb.Player{StatureM: 9}})
		wantInvalid(t, err, "candidate_player.stature_m")
		_, err = client.CompareSwings(within(t), &pb.CompareSwingsRequest{Reference: res.Swings[0]})
		wantInvalid(t, err, "candidate")
	})
	t.Run("summarize", func(t *testing.T) {
		s, err := client.SummarizePractice(within(t), &pb.SummarizePracticeRequest{Swings: res.Swings})
		if err != nil {
			t.Fatal(err)
		}
		if len(s.Counts) == 0 || s.Counts[0].Count != 2 || len(s.Figures) < 20 || s.Summary == "" {
			t.Errorf("counts %v, %d figures, %q", s.Counts, len(s.Figures), s.Summary)
		}
		again, err := client.SummarizePractice(within(t), &pb.SummarizePracticeRequest{Swings: res.Swings, Baseline: s.Figures})
		if err != nil {
			t.Fatal(err)
		}
		if f := again.Figures[0]; f.ChangeFromBaseline == nil || f.GetChangeFromBaseline() != 0 {
			t.Errorf("change from itself: %v", f)
		}
		_, err = client.SummarizePractice(within(t), &pb.SummarizePracticeRequest{})
		wantInvalid(t, err, "swings")
		_, err = client.SummarizePractice(within(t), &pb.SummarizePracticeRequest{Swings: res.Swings, Player: &pb.Player{StatureM: 9}})
		wantInvalid(t, err, "player.stature_m")
		_, err = client.SummarizePractice(within(t), &pb.SummarizePracticeRequest{Swings: res.Swings, Baseline: []*pb.PracticeFigure{{}}})
		wantInvalid(t, err, "baseline[0].measure")
		_, err = client.SummarizePractice(within(t), &pb.SummarizePracticeRequest{Swings: make([]*pb.Swing, 5001)})
		wantLimit(t, err, "swings_per_request")
	})
	t.Run("advise", func(t *testing.T) {
		a, err := client.AdviseFeed(within(t), &pb.AdviseFeedRequest{Recent: res.Swings, FeedsSoFar: 2})
		if err != nil {
			t.Fatal(err)
		}
		// The machine's limits are not known and no frames show the player: no ball.
		if a.Action == pb.FeedAction_FEED_ACTION_FEED || a.Reason == "" || len(a.Cautions) == 0 {
			t.Errorf("advice %v", a)
		}
		_, err = client.AdviseFeed(within(t), &pb.AdviseFeedRequest{Now: frames(0, 3)})
		wantInvalid(t, err, "setup")
		_, err = client.AdviseFeed(within(t), &pb.AdviseFeedRequest{Setup: coco(), Now: []*pb.Frame{{Camera: 4}}})
		wantInvalid(t, err, "now[0].camera")
		_, err = client.AdviseFeed(within(t), &pb.AdviseFeedRequest{Most: &pb.Feed{SpeedMps: -3}})
		wantInvalid(t, err, "most.speed_mps")
		_, err = client.AdviseFeed(within(t), &pb.AdviseFeedRequest{Recent: []*pb.Swing{{Stroke: 40}}})
		wantInvalid(t, err, "recent[0].stroke")
	})
}

// told reports whether a comparison warns of something.
func told(c *pb.CompareSwingsResponse, code string) bool {
	return slices.ContainsFunc(c.Warnings, func(w *pb.Warning) bool { return w.Code == code })
}
