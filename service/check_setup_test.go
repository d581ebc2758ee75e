package service

import (
	"math"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// standing is a second of a made practice in a condition, and its setup.
func standing(t testing.TB, c synth.Condition, v synth.View) *pb.CheckSetupRequest {
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
	if testing.Short() {
		t.Skip("arithmetic alone, for figures' sake: left to the plain run")
	}
	client := dial(t, Config{})
	marks := true
	for name, c := range map[string]struct {
		req    *pb.CheckSetupRequest
		method string
		poses  int
		good   int // figures, at least
	}{
		"world":     {standing(t, synth.World, synth.View{}), "world", 0, 35},
		"two views": {standing(t, synth.TwoViews, synth.View{}), "two_view", 2, 30},
		"marks":     {standing(t, synth.ImageOnly, synth.View{Marks: &marks}), "image_plane", 1, 15},
		"phone":     {standing(t, synth.Phone, synth.View{From: camera.ViewRight}), "one_view", 1, 5},
	} {
		res, err := client.CheckSetup(within(t), c.req)
		if err != nil {
			t.Fatal(err)
		}
		if res.Capture.Method != c.method || len(res.Poses) != c.poses {
			t.Errorf("%s: method %s, %d poses", name, res.Capture.Method, len(res.Poses))
		}
		n := grades(res)
		t.Logf("%s: %v", name, n)
		if n[pb.Grade_GRADE_GOOD] < c.good || len(res.Expected) != len(measure.Catalog()) {
			t.Errorf("%s: grades %v of %d figures", name, n, len(res.Expected))
		}
		for _, m := range res.Expected {
			if m.Value != nil || m.Low != nil || m.High != nil {
				t.Errorf("%s: %s has a value before any swing", name, m.Name)
			}
			if known := m.Grade != pb.Grade_GRADE_NOT_MEASURABLE; known != (m.Sd != nil) || m.Grade == pb.Grade_GRADE_UNSPECIFIED {
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
	_, err = client.CheckSetup(within(t), &pb.CheckSetupRequest{Setup: coco(), Frames: []*pb.Frame{{TimeUs: 9}, {TimeUs: 9, Index: 1}}})
	wantInvalid(t, err, "frames[1].time_us")
}

// marked is a setup whose second camera sees court marks as given.
func marked(ms ...*pb.MarkedPoint) *pb.Setup {
	s := coco()
	s.Cameras = []*pb.Camera{{WidthPx: 1920, HeightPx: 1080}, {WidthPx: 1920, HeightPx: 1080, CourtMarks: ms}}
	return s
}

func TestUnfitMarksAreNamed(t *testing.T) {
	client := dial(t, Config{})
	at := func(m pb.CourtMark, x, y float64) *pb.MarkedPoint { return &pb.MarkedPoint{Mark: m, XPx: x, YPx: y} }
	const first = pb.CourtMark_COURT_MARK_NEAR_BASELINE_LEFT_DOUBLES
	for name, s := range map[string]*pb.Setup{
		// Five marks of one line fix no plane.
		"one line": marked(at(first, 100, 800), at(first+1, 300, 800), at(first+2, 700, 800), at(first+3, 1100, 800), at(first+4, 1300, 800)),
		// Left and right sides swapped at the far end: the lines would cross on the court.
		"contradictory": marked(at(first, 100, 800), at(first+4, 1300, 800), at(pb.CourtMark_COURT_MARK_FAR_BASELINE_LEFT_DOUBLES, 1000, 300),
			at(pb.CourtMark_COURT_MARK_FAR_BASELINE_RIGHT_DOUBLES, 400, 300), at(pb.CourtMark_COURT_MARK_NEAR_SERVICE_LEFT, 900, 900)),
	} {
		_, err := client.CheckSetup(within(t), &pb.CheckSetupRequest{Setup: s})
		if err == nil {
			t.Errorf("%s: no error", name)
			continue
		}
		wantInvalid(t, err, "setup.cameras[1].court_marks")
	}
	// Too few marks are no fault: the body tells the rest.
	if _, err := client.CheckSetup(within(t), &pb.CheckSetupRequest{Setup: marked(at(first, 100, 800))}); err != nil {
		t.Error(err)
	}
}

// TestAdviceSpeaksTheLocale: the same advice in English and German, each cue of the catalog.
func TestAdviceSpeaksTheLocale(t *testing.T) {
	if testing.Short() {
		t.Skip("arithmetic alone, for figures' sake: left to the plain run")
	}
	client := dial(t, Config{})
	req := standing(t, synth.BodyOnly, synth.View{From: camera.ViewFront, Distance: 11})
	english, err := client.CheckSetup(within(t), req)
	if err != nil {
		t.Fatal(err)
	}
	req.Setup.Locale = "de-AT"
	german, err := client.CheckSetup(within(t), req)
	if err != nil {
		t.Fatal(err)
	}
	catalog, err := client.GetCatalog(within(t), &pb.GetCatalogRequest{})
	if err != nil {
		t.Fatal(err)
	}
	known := map[string]bool{}
	for _, c := range catalog.Cues {
		known[c.Name] = true
	}
	if len(english.Advice) == 0 || len(english.Advice) != len(german.Advice) {
		t.Fatalf("%d pieces of advice in English, %d in German", len(english.Advice), len(german.Advice))
	}
	for i, c := range english.Advice {
		if c.Kind != pb.CueKind_CUE_KIND_CAPTURE || !known[c.Name] || c.Name != german.Advice[i].Name || c.Text == german.Advice[i].Text {
			t.Errorf("%v beside %v", c, german.Advice[i])
		}
	}
}
