package wire

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/durationpb"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

func goodSetup() *pb.Setup {
	return &pb.Setup{
		Layout: pb.PointLayout_POINT_LAYOUT_COCO_17, WorldAxes: pb.WorldAxes_WORLD_AXES_COURT,
		Player: &pb.Player{DominantHand: pb.Hand_HAND_LEFT, StatureM: 1.7, Level: pb.Level_LEVEL_ADVANCED, Junior: true},
		Racket: &pb.Racket{LengthM: 0.66},
		Cameras: []*pb.Camera{{
			WidthPx: 1920, HeightPx: 1080, FocalPx: 1500, CaptureRateHz: 60, SlowMotionFactor: 1,
			Viewpoint:   pb.Viewpoint_VIEWPOINT_LEFT,
			CourtMarks:  []*pb.MarkedPoint{{Mark: pb.CourtMark_COURT_MARK_NET_CENTER_TOP, XPx: 900, YPx: 400}},
			ClockOffset: durationpb.New(-250 * time.Millisecond),
		}},
		ExpectedStroke: pb.Stroke_STROKE_SERVE, Locale: "de", WithTrace: true,
	}
}

func TestSetupKeepsEverything(t *testing.T) {
	in, err := Setup(goodSetup(), "setup")
	if err != nil {
		t.Fatal(err)
	}
	s := in.Setup
	if s.Player != (body.Player{Hand: body.LeftHanded, Stature: 1.7, Level: body.Advanced, Junior: true}) {
		t.Errorf("player %+v", s.Player)
	}
	if s.RacketLength != 0.66 || s.Axes != camera.AxesCourt || s.Expected != body.Serve || !s.Trace || in.Locale != "de" {
		t.Errorf("setup %+v locale %q", s, in.Locale)
	}
	c := s.Cameras[0]
	if c.Width != 1920 || c.Height != 1080 || c.Focal != 1500 || c.CaptureRate != 60 || c.SlowMotion != 1 || c.View != camera.ViewLeft {
		t.Errorf("camera %+v", c)
	}
	if !c.HasClockOffset || c.ClockOffset != -0.25 || c.Marks[0] != (camera.MarkedPoint{Mark: 12, X: 900, Y: 400}) {
		t.Errorf("camera %+v", c)
	}
	if back := AsSetup(&in.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17); !proto.Equal(back, withoutLocale(goodSetup())) {
		t.Errorf("back again: %v", back)
	}
}

func withoutLocale(s *pb.Setup) *pb.Setup { s.Locale = ""; return s }

func TestSetupNamesTheUnfitField(t *testing.T) {
	cases := []struct {
		field string
		spoil func(*pb.Setup)
	}{
		{"setup.layout", func(s *pb.Setup) { s.Layout = 0 }},
		{"setup.layout", func(s *pb.Setup) { s.Layout = 77 }},
		{"setup.point_names", func(s *pb.Setup) { s.Layout = pb.PointLayout_POINT_LAYOUT_NAMED }},
		{"setup.point_names[1]", func(s *pb.Setup) {
			s.Layout, s.PointNames = pb.PointLayout_POINT_LAYOUT_NAMED, []string{"nose", "nose"}
		}},
		{"setup.point_names[0]", func(s *pb.Setup) {
			s.Layout, s.PointNames = pb.PointLayout_POINT_LAYOUT_NAMED, []string{""}
		}},
		{"setup.point_names", func(s *pb.Setup) {
			s.Layout, s.PointNames = pb.PointLayout_POINT_LAYOUT_NAMED, make([]string, MaxPointNames+1)
		}},
		{"setup.world_axes", func(s *pb.Setup) { s.WorldAxes = 9 }},
		{"setup.player.dominant_hand", func(s *pb.Setup) { s.Player.DominantHand = 3 }},
		{"setup.player.level", func(s *pb.Setup) { s.Player.Level = -1 }},
		{"setup.player.stature_m", func(s *pb.Setup) { s.Player.StatureM = 170 }},
		{"setup.player.stature_m", func(s *pb.Setup) { s.Player.StatureM = math.NaN() }},
		{"setup.racket.length_m", func(s *pb.Setup) { s.Racket.LengthM = -1 }},
		{"setup.expected_stroke", func(s *pb.Setup) { s.ExpectedStroke = 99 }},
		{"setup.locale", func(s *pb.Setup) { s.Locale = strings.Repeat("x", 100) }},
		{"setup.cameras", func(s *pb.Setup) { s.Cameras = make([]*pb.Camera, MaxCameras+1) }},
		{"setup.cameras[0].width_px", func(s *pb.Setup) { s.Cameras[0].WidthPx = 0 }},
		{"setup.cameras[0].height_px", func(s *pb.Setup) { s.Cameras[0].HeightPx = 0 }},
		{"setup.cameras[0].height_px", func(s *pb.Setup) { s.Cameras[0].HeightPx = math.MaxUint32 }},
		{"setup.cameras[0].focal_px", func(s *pb.Setup) { s.Cameras[0].FocalPx = math.Inf(1) }},
		{"setup.cameras[0].capture_rate_hz", func(s *pb.Setup) { s.Cameras[0].CaptureRateHz = -1 }},
		{"setup.cameras[0].slow_motion_factor", func(s *pb.Setup) { s.Cameras[0].SlowMotionFactor = math.NaN() }},
		{"setup.cameras[0].viewpoint", func(s *pb.Setup) { s.Cameras[0].Viewpoint = 5 }},
		{"setup.cameras[0].court_marks[0].mark", func(s *pb.Setup) { s.Cameras[0].CourtMarks[0].Mark = 0 }},
		{"setup.cameras[0].court_marks[0].x_px", func(s *pb.Setup) { s.Cameras[0].CourtMarks[0].XPx = math.NaN() }},
		{"setup.cameras[0].court_marks[1].mark", func(s *pb.Setup) {
			s.Cameras[0].CourtMarks = append(s.Cameras[0].CourtMarks, s.Cameras[0].CourtMarks[0])
		}},
		{"setup.cameras[0].clock_offset", func(s *pb.Setup) { s.Cameras[0].ClockOffset = durationpb.New(2 * time.Hour) }},
		{"setup.cameras[0].clock_offset", func(s *pb.Setup) { s.Cameras[0].ClockOffset = &durationpb.Duration{Nanos: -2e9} }},
	}
	for _, c := range cases {
		s := goodSetup()
		c.spoil(s)
		_, err := Setup(s, "setup")
		wantField(t, err, c.field)
	}
	_, err := Setup(nil, "open.setup")
	wantField(t, err, "open.setup")
}

// wantField fails unless err names the field first.
func wantField(t *testing.T, err error, field string) {
	t.Helper()
	var ps Problems
	if !errors.As(err, &ps) || len(ps) == 0 || ps[0].Field != field {
		t.Errorf("error %v, want field %s", err, field)
	}
}

func TestUnknownNamesAreWarnedOf(t *testing.T) {
	in, err := Setup(&pb.Setup{
		Layout: pb.PointLayout_POINT_LAYOUT_NAMED, PointNames: []string{"left_wrist", "left_eye", "tail", "mid_hip"},
	}, "setup")
	if err != nil {
		t.Fatal(err)
	}
	want := body.Layout{body.LeftWrist, body.Unused, body.Unused, body.MidHip}
	for i, p := range want {
		if in.Layout[i] != p {
			t.Errorf("place %d is %v, want %v", i, in.Layout[i], p)
		}
	}
	if len(in.Warnings) != 1 || in.Warnings[0].Code != "unknown_point_name" || !strings.Contains(in.Warnings[0].Text, "tail") {
		t.Errorf("warnings %v", in.Warnings)
	}
}

func TestClockKeepsEverything(t *testing.T) {
	want := &pb.SettledClock{SlowMotionFactor: 3.97, Sd: 0.05, Stated: true, InDoubt: true}
	c, err := Clock(want, "open.clock")
	if err != nil || !proto.Equal(SettledClock(c), want) {
		t.Errorf("%+v became %+v, %v", want, SettledClock(c), err)
	}
	if c, err := Clock(nil, "open.clock"); err != nil || SettledClock(c) != nil {
		t.Errorf("nothing became %+v, %v", c, err)
	}
	for _, bad := range []*pb.SettledClock{{}, {SlowMotionFactor: -4}, {SlowMotionFactor: math.NaN()}, {SlowMotionFactor: 1e6}, {SlowMotionFactor: 4, Sd: math.Inf(1)}} {
		if _, err := Clock(bad, "open.clock"); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}
