package service

import (
	"math"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// standing is a second of a made practice in a condition, and its setup.
func standing(t *testing.T, c synth.Condition, v synth.View) *pb.CheckSetupRequest {
	t.Helper()
	v.Layout = synth.COCO17
	m := synth.NewPractice(synth.Practice{Spec: synth.Spec{Seed: 5}, Strokes: []body.Stroke{body.Forehand}})
	clip := synth.Shoot(m, c, v, 5)
	req := &pb.CheckSetupRequest{Setup: wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17)}
	for i := range min(120, len(clip.Frames)) {
		req.Frames = append(req.Frames, wire.AsFrame(&clip.Frames[i], body.COCO17))
	}
	return req
}

func grades(res *pb.CheckSetupResponse) map[pb.Grade]int {
	n := map[pb.Grade]int{}
	for _, m := range res.Expected {
		n[m.Grade]++
	}
	return n
}

func TestSetupsPromiseWhatTheyCanShow(t *testing.T) {
	client := dial(t, Config{})
	marks := true
	for name, c := range map[string]struct {
		req    *pb.CheckSetupRequest
		method string
		poses  int
	}{
		"world":     {standing(t, synth.World, synth.View{}), "world", 0},
		"two views": {standing(t, synth.TwoViews, synth.View{}), "two_view", 2},
		"marks":     {standing(t, synth.ImageOnly, synth.View{Marks: &marks}), "one_view", 1},
	} {
		res, err := client.CheckSetup(within(t), c.req)
		if err != nil {
			t.Fatal(err)
		}
		if res.Capture.Method != c.method || len(res.Poses) != c.poses {
			t.Errorf("%s: method %s, %d poses", name, res.Capture.Method, len(res.Poses))
		}
		if n := grades(res); n[pb.Grade_GRADE_GOOD] < 20 {
			t.Errorf("%s: grades %v", name, n)
		}
		for _, m := range res.Expected {
			if m.Value != nil || m.Low != nil || m.High != nil {
				t.Errorf("%s: %s has a value before any swing", name, m.Name)
			}
			if known := m.Grade != pb.Grade_GRADE_NOT_MEASURABLE; known != (m.Sd != nil) || known == (m.Grade == 0) {
				t.Errorf("%s: %v", name, m)
			}
			if m.Grade != pb.Grade_GRADE_GOOD && m.Reason == "" {
				t.Errorf("%s: %s is %v for no reason", name, m.Name, m.Grade)
			}
		}
		for _, p := range res.Poses {
			if len(p.PositionM) != 3 || len(p.Rotation) != 9 || p.PositionM[1] < 0 || math.Abs(p.PositionM[0]) > 60 {
				t.Errorf("%s: pose %v", name, p)
			}
		}
	}
}

func TestWithoutRacketNothingOfItIsPromised(t *testing.T) {
	req := standing(t, synth.World, synth.View{})
	for _, f := range req.Frames {
		f.RacketWorld, f.RacketImage = nil, nil
	}
	res, err := dial(t, Config{}).CheckSetup(within(t), req)
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range res.Expected {
		if m.Name == "lag.max" && m.Grade != pb.Grade_GRADE_NOT_MEASURABLE {
			t.Errorf("%v", m)
		}
	}
	found := false
	for _, c := range res.Advice {
		found = found || c.Name == "capture_racket"
	}
	if !found {
		t.Errorf("advice %v", res.Advice)
	}
}

func TestUnfitSetupsAreRefused(t *testing.T) {
	client := dial(t, Config{})
	_, err := client.CheckSetup(within(t), &pb.CheckSetupRequest{})
	wantInvalid(t, err, "setup")
	_, err = client.CheckSetup(within(t), &pb.CheckSetupRequest{Setup: coco(), Frames: []*pb.Frame{{Image: []float32{1}}}})
	wantInvalid(t, err, "frames[0].image")
	_, err = client.CheckSetup(within(t), &pb.CheckSetupRequest{Setup: coco(), Frames: frames(0, 4097)})
	wantLimit(t, err, "batch_frames")
}
