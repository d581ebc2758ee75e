package service

import (
	"context"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/wire"
)

// CheckSetup says what a placement can and cannot measure, before practice.
func (s *Server) CheckSetup(_ context.Context, req *pb.CheckSetupRequest) (*pb.CheckSetupResponse, error) {
	in, frames, err := s.look(req.GetSetup(), req.GetFrames(), "frames")
	if err != nil {
		return nil, statusError(err)
	}
	o := newOutlook(&in, frames)
	sheet := o.sheet()
	res := &pb.CheckSetupResponse{
		Capture: wire.Capture(sheet.Capture),
		Advice:  wire.Cues(s.config.Book.CaptureAdvice(sheet, in.Locale)),
	}
	for _, f := range sheet.Figures {
		res.Expected = append(res.Expected, expected(f))
	}
	for i, p := range o.poses {
		if p != nil {
			res.Poses = append(res.Poses, cameraPose(i, p))
		}
	}
	return res, nil
}

// expected returns a figure without values: its error, grade and reason.
func expected(f measure.Figure) *pb.Measure {
	m := &pb.Measure{Name: f.Name, Unit: f.Unit, Grade: pb.Grade(f.Grade), Reason: f.Reason}
	if f.Known() {
		m.Sd = &f.SD
	}
	return m
}

func cameraPose(i int, p *camera.Pose) *pb.CheckSetupResponse_CameraPose {
	c := p.Center()
	return &pb.CheckSetupResponse_CameraPose{
		Camera: uint32(i), PositionM: []float64{c.X, c.Y, c.Z}, Rotation: p.R[:],
		FocalPx: p.Focal, ReprojectionRmsPx: p.RMS,
	}
}

// outlook is what a setup and a look at the player promise.
type outlook struct {
	setup  *wire.Intake
	poses  []*camera.Pose // for each camera; nil: not located by court marks
	seen   measure.Need   // what the frames show
	view   camera.Viewpoint
	rate   float64 // Hz; 0: not known
	method string
	scale  bool // the scale is known
	court  bool // the net's direction is known
}

func newOutlook(in *wire.Intake, frames []body.Frame) *outlook {
	o := &outlook{setup: in, view: camera.FacingOf(frames).View}
	for _, c := range in.Setup.Cameras {
		p, err := camera.Solve(c)
		if err != nil {
			o.poses = append(o.poses, nil)
			continue
		}
		o.poses = append(o.poses, &p)
	}
	o.look(frames)
	o.place()
	return o
}

// look notes which points the frames show, and how fast they come.
func (o *outlook) look(frames []body.Frame) {
	var seen [body.NumPoints]bool
	world := false
	for i := range frames {
		for p := range body.NumPoints {
			w := frames[i].World[p].Score > 0
			seen[p] = seen[p] || w || frames[i].Image[p].Score > 0
			world = world || w
		}
	}
	o.seen = needsMet(seen, o.setup.Setup.Player.Stature > 0)
	if dt, _ := camera.FrameInterval(ofCamera(frames, 0)); dt > 0 {
		o.rate = 1 / dt
	}
	switch a := o.setup.Setup.Axes; {
	case world && (a == camera.AxesCourt || a == camera.AxesLevel):
		o.method, o.scale = "world", true
	case o.located() >= 2:
		o.method, o.scale = "two_view", true
	case world || o.located() == 1 || o.setup.Setup.Player.Stature > 0:
		o.method, o.scale = "one_view", true
	default:
		o.method = "image_plane"
	}
}

// place settles from where the player is seen and whether the court is known.
func (o *outlook) place() {
	for _, p := range o.poses {
		if p != nil {
			o.view = p.View()
			break
		}
	}
	if cs := o.setup.Setup.Cameras; len(cs) > 0 && cs[0].View != camera.ViewUnknown {
		o.view = cs[0].View
	}
	o.court = o.located() > 0 || o.setup.Setup.Axes == camera.AxesCourt
}

func (o *outlook) located() int {
	n := 0
	for _, p := range o.poses {
		if p != nil {
			n++
		}
	}
	return n
}

func ofCamera(frames []body.Frame, c uint8) []body.Frame {
	var out []body.Frame
	for i := range frames {
		if frames[i].Camera == c {
			out = append(out, frames[i])
		}
	}
	return out
}

// needsMet says which needs of measures the seen points meet.
func needsMet(seen [body.NumPoints]bool, stature bool) measure.Need {
	both := func(p body.Point) bool { return seen[p] && seen[p.Twin()] }
	var met measure.Need
	for _, n := range []struct {
		need measure.Need
		ok   bool
	}{
		{measure.NeedRacket, seen[body.RacketTip] && (seen[body.RacketButt] || seen[body.RacketThroat])},
		{measure.NeedGrip, both(body.LeftWrist)},
		{measure.NeedBall, seen[body.Ball]},
		{measure.NeedEars, both(body.LeftEar)},
		{measure.NeedNose, seen[body.Nose]},
		{measure.NeedShoulders, both(body.LeftShoulder)},
		{measure.NeedElbows, both(body.LeftElbow)},
		{measure.NeedWrists, both(body.LeftWrist)},
		{measure.NeedHips, both(body.LeftHip)},
		{measure.NeedKnees, both(body.LeftKnee)},
		{measure.NeedAnkles, both(body.LeftAnkle)},
		{measure.NeedStature, stature},
	} {
		if n.ok {
			met |= n.need
		}
	}
	return met
}

// sheet is the outlook as a sheet of one swing to come, for the advice on capture.
func (o *outlook) sheet() *measure.Sheet {
	s := &measure.Sheet{
		Stroke: o.setup.Setup.Expected,
		Capture: measure.Capture{
			View: o.view, FrameRate: o.rate, SlowMotion: 1, Method: o.method,
		},
	}
	if !o.court {
		s.Warnings = append(s.Warnings, measure.Warning{
			Code: "target_direction_assumed", Text: "The court is not known: the direction of play will be taken from the player.",
		})
	}
	for _, r := range measure.Catalog() {
		if s.Stroke == body.StrokeUnknown || r.For(s.Stroke) {
			s.Figures = append(s.Figures, o.figure(&r))
		}
	}
	return s
}

// wider is by how much an error grows where one camera looks along what it
// should measure across: in the phone's own column of noise, depth is about
// twice as uncertain as the image plane (45 mm against 25 mm).
const wider = 2

// figure says how well a measure will be had.
func (o *outlook) figure(r *measure.Row) measure.Figure {
	f := measure.Figure{
		Name: r.Name, Unit: r.Unit, Grade: measure.Good, SD: r.PromisedSD,
		Value: math.NaN(), Low: math.NaN(), High: math.NaN(),
	}
	refuse := func(why string) { f.Grade, f.Reason, f.SD = measure.NotMeasurable, why, math.NaN() }
	rough := func(why string, by float64) { f.Grade, f.Reason, f.SD = measure.Rough, why, by*r.PromisedSD }
	switch missing := r.Needs &^ o.seen; {
	case missing&measure.NeedRacket != 0:
		refuse(measure.ReasonNoRacket)
	case missing&measure.NeedBall != 0:
		refuse(measure.ReasonNoBall)
	case missing&measure.NeedStature != 0:
		refuse(measure.ReasonNoStature)
	case missing != 0:
		refuse(measure.ReasonNoBody)
	case !o.scale && r.Unit != "s" && r.Unit != "deg" && r.Unit != "1":
		refuse("no_scale: neither court lines nor the player's height are known")
	case o.oneCamera() && !sees(r.Views, o.view):
		rough("one camera here looks along what it should measure across; a second one, or another place, would help", wider)
	case r.NeedsTarget && !o.court:
		rough("the direction of the net is not known", 1)
	}
	return f
}

func (o *outlook) oneCamera() bool { return o.method == "one_view" || o.method == "image_plane" }

func sees(views []camera.Viewpoint, v camera.Viewpoint) bool {
	for _, x := range views {
		if x == v {
			return true
		}
	}
	return false
}
