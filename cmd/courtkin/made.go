package main

import (
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
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
	madeStature = 1.76 // m
	madeSeed    = 20260418

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
	req := &pb.AnalyzeClipRequest{Setup: &pb.Setup{
		Layout:    pb.PointLayout_POINT_LAYOUT_COCO_17,
		WorldAxes: pb.WorldAxes_WORLD_AXES_COURT,
		Player:    &pb.Player{DominantHand: pb.Hand_HAND_RIGHT, StatureM: madeStature, Level: pb.Level_LEVEL_INTERMEDIATE},
		Racket:    &pb.Racket{LengthM: rounded(clip.Setup.RacketLength)},
		WithTrace: true,
	}}
	for i := 0; i < len(clip.Frames); i += madeThinning {
		f := worldFrame(&clip.Frames[i])
		f.Index /= madeThinning
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

// worldFrame writes a frame's 3-D points in the contract's form, to the millimetre.
func worldFrame(f *body.Frame) *pb.Frame {
	out := &pb.Frame{Index: f.Index, TimeUs: f.TimeUS, Camera: uint32(f.Camera)}
	out.World = worldPoints(f, body.COCO17)
	out.RacketWorld = worldPoints(f, body.RacketOrder)
	if f.World[body.Ball].Score > 0 {
		out.BallWorld = worldPoints(f, body.Layout{body.Ball})
	}
	return out
}

// worldPoints lists x, y, z, score for each place of a layout; zeros where nothing was seen.
func worldPoints(f *body.Frame, layout body.Layout) []float32 {
	out := make([]float32, 0, 4*len(layout))
	for _, p := range layout {
		if p == body.Unused || f.World[p].Score == 0 {
			out = append(out, 0, 0, 0, 0)
			continue
		}
		w := f.World[p]
		out = append(out, millimetre(w.X), millimetre(w.Y), millimetre(w.Z), float32(math.Round(100*float64(w.Score))/100))
	}
	return out
}

func millimetre(x float32) float32 { return float32(rounded(float64(x))) }

func rounded(x float64) float64 { return math.Round(1000*x) / 1000 }
