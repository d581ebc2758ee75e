package wire

import (
	"time"

	"google.golang.org/protobuf/types/known/durationpb"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/swing"
)

// AsFrame returns a core frame as a client would send it, its body points in
// the layout's order. Lists of which nothing was seen are left out.
func AsFrame(f *body.Frame, layout body.Layout) *pb.Frame {
	return &pb.Frame{
		Index: f.Index, TimeUs: f.TimeUS, Camera: uint32(f.Camera),
		Image: imageList(f, layout), World: worldList(f, layout),
		RacketImage: imageList(f, body.RacketOrder), RacketWorld: worldList(f, body.RacketOrder),
		BallImage: imageList(f, ballOrder), BallWorld: worldList(f, ballOrder),
	}
}

func imageList(f *body.Frame, order body.Layout) []float32 {
	out, any := make([]float32, 0, 3*len(order)), false
	for _, p := range order {
		var s body.Seen2
		if p != body.Unused {
			s = f.Image[p]
		}
		out, any = append(out, s.X, s.Y, s.Score), any || s.Score > 0
	}
	if !any {
		return nil
	}
	return out
}

func worldList(f *body.Frame, order body.Layout) []float32 {
	out, any := make([]float32, 0, 4*len(order)), false
	for _, p := range order {
		var s body.Seen3
		if p != body.Unused {
			s = f.World[p]
		}
		out, any = append(out, s.X, s.Y, s.Z, s.Score), any || s.Score > 0
	}
	if !any {
		return nil
	}
	return out
}

// AsSetup returns a core setup as a client would send it.
func AsSetup(s *swing.Setup, layout pb.PointLayout) *pb.Setup {
	out := &pb.Setup{
		Layout: layout, WorldAxes: pb.WorldAxes(s.Axes), ExpectedStroke: pb.Stroke(s.Expected), WithTrace: s.Trace,
		Player: &pb.Player{
			DominantHand: pb.Hand(s.Player.Hand), StatureM: s.Player.Stature, Level: pb.Level(s.Player.Level), Junior: s.Player.Junior,
		},
		Racket: &pb.Racket{LengthM: s.RacketLength},
	}
	for i := range s.Cameras {
		out.Cameras = append(out.Cameras, asCamera(&s.Cameras[i]))
	}
	return out
}

func asCamera(c *camera.Camera) *pb.Camera {
	out := &pb.Camera{
		WidthPx: c.Width, HeightPx: c.Height, FocalPx: c.Focal, CaptureRateHz: c.CaptureRate,
		SlowMotionFactor: c.SlowMotion, Viewpoint: pb.Viewpoint(c.View),
	}
	for _, m := range c.Marks {
		out.CourtMarks = append(out.CourtMarks, &pb.MarkedPoint{Mark: pb.CourtMark(m.Mark), XPx: m.X, YPx: m.Y})
	}
	if c.HasClockOffset {
		out.ClockOffset = durationpb.New(time.Duration(c.ClockOffset * float64(time.Second)))
	}
	return out
}
