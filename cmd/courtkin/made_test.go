package main

import (
	"bytes"
	"compress/gzip"
	"flag"
	"io"
	"math"
	"os"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// A made practice is what the page plays to somebody who has no camera at hand.
// It is invented: a right-handed club player of 1.76 m hits forehands and
// two-handed backhands from a machine. The balls of the second half come nearer
// to the body and the racket gets there later.

// madeStrokes are the balls of the page's made practice, in order.
var madeStrokes = []body.Stroke{
	body.Forehand, body.Forehand, body.TwoHandedBackhand, body.Forehand,
	body.Forehand, body.TwoHandedBackhand, body.Forehand, body.Forehand,
}

const (
	madeStature = 1.76     // m
	madeSeed    = 20260428 // no follow-through of it is as fast as its stroke

	// Every second of 120 frames a second, as a common phone films.
	madeThinning = 2
)

// madePractice returns the practice as a clip that any call takes: 3-D points of
// body, racket and ball in court axes, 60 frames a second, with an estimator's noise.
func madePractice() *pb.AnalyzeClipRequest {
	motion := synth.NewPractice(synth.Practice{
		Spec:     synth.Spec{Level: body.Intermediate, Hand: body.RightHanded, Stature: madeStature, Seed: madeSeed},
		Strokes:  madeStrokes,
		Plain:    true,
		Each:     tire,
		Interval: [2]float64{0.4, 0.9},
	})
	clip := synth.Shoot(motion, synth.World, synth.View{Layout: synth.COCO17}, madeSeed)
	req := &pb.AnalyzeClipRequest{Setup: wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17)}
	req.Setup.Player = &pb.Player{DominantHand: pb.Hand_HAND_RIGHT, StatureM: madeStature, Level: pb.Level_LEVEL_INTERMEDIATE}
	req.Setup.WithTrace = true
	for i := 0; i < len(clip.Frames); i += madeThinning {
		f := wire.AsFrame(&clip.Frames[i], body.COCO17)
		f.Index /= madeThinning
		for _, points := range [][]float32{f.World, f.RacketWorld, f.BallWorld} {
			roundPoints(points)
		}
		req.Frames = append(req.Frames, f)
	}
	return req
}

// tire has the balls of the second half come 12 cm nearer.
func tire(i int, s *synth.Spec) {
	if i >= len(madeStrokes)/2 {
		s.Knobs.Spacing = -0.12
		s.Knobs.Lag = -15
	}
}

// roundPoints rounds to the millimetre, so that the recording is small.
func roundPoints(points []float32) {
	for i, x := range points {
		points[i] = float32(math.Round(1000*float64(x)) / 1000)
	}
}

const (
	madeFile = "../../gateway/web/page/demo/practice.json.gz"
	madeMost = 1_500_000 // bytes: a page on a phone's connection
)

var remake = flag.Bool("remake", false, "make the page's practice anew")

// TestMadePractice reads the recording that the page plays and finds its balls.
// With -remake it makes the recording anew.
func TestMadePractice(t *testing.T) {
	if *remake {
		write(t, madePractice())
	}
	raw, err := os.ReadFile(madeFile)
	if err != nil {
		t.Fatal(err)
	}
	if len(raw) > madeMost {
		t.Errorf("%d bytes; at most %d", len(raw), madeMost)
	}
	if testing.Short() {
		t.Skip("analyses half a minute of play")
	}
	res := analyzed(t, raw)
	if len(res.Swings) != len(madeStrokes) {
		t.Fatalf("%d balls found; %d were played", len(res.Swings), len(madeStrokes))
	}
	for i, s := range res.Swings {
		if s.Stroke != pb.Stroke(madeStrokes[i]) {
			t.Errorf("ball %d: %v, played %v", i+1, s.Stroke, madeStrokes[i])
		}
	}
}

func write(t *testing.T, clip *pb.AnalyzeClipRequest) {
	t.Helper()
	raw, err := protojson.Marshal(clip)
	if err != nil {
		t.Fatal(err)
	}
	var packed bytes.Buffer
	z, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression) // the level is valid
	_, _ = z.Write(raw)
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(madeFile, packed.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

func analyzed(t *testing.T, packed []byte) *pb.AnalyzeClipResponse {
	t.Helper()
	r, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	clip := &pb.AnalyzeClipRequest{}
	if err := protojson.Unmarshal(raw, clip); err != nil {
		t.Fatal(err)
	}
	srv, err := service.New(service.Config{})
	if err != nil {
		t.Fatal(err)
	}
	res, err := srv.Analyze(t.Context(), clip, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	return res
}
