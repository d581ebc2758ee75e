package service

import (
	"context"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/check"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

// CheckSetup says what a placement can and cannot measure, before practice: made
// strokes are filmed from it and measured by the machine that will serve it.
func (s *Server) CheckSetup(ctx context.Context, req *pb.CheckSetupRequest) (*pb.CheckSetupResponse, error) {
	in, frames, err := s.look(req.GetSetup(), req.GetFrames(), "frames")
	if err == nil {
		err = fitToCheck(&in)
	}
	if err != nil {
		return nil, statusError(err)
	}
	if err := s.clips.take(ctx); err != nil {
		return nil, statusError(err)
	}
	defer s.clips.free()
	o, err := check.Foretell(ctx, &check.Request{Setup: in.Setup, Layout: in.Layout, Frames: frames})
	if err != nil {
		return nil, statusError(err)
	}
	res := &pb.CheckSetupResponse{
		Capture: wire.Capture(o.Capture),
		Advice:  wire.Cues(check.Cues(s.config.Book, o.Advice, in.Locale)),
		Poses:   poses(o.Look),
	}
	for _, f := range o.Figures {
		res.Expected = append(res.Expected, expected(f))
	}
	return res, nil
}

// fitToCheck returns what is unfit beyond the wire's own rules: a setup that the
// machine refuses, or marks that no camera sees so.
func fitToCheck(in *wire.Intake) error {
	if _, err := swing.New(in.Setup); err != nil {
		return err
	}
	return unfitMarks(in.Setup.Cameras)
}

// unfitMarks names the marks that lead to no pose. Fewer than a pose needs are no
// fault: the player's body locates the camera then.
func unfitMarks(cams []camera.Camera) error {
	var bad wire.Problems
	for i, c := range cams {
		if len(c.Marks) == 0 {
			continue
		}
		if fault := check.MarksFault(c); fault != nil && fault.Fault != camera.FaultTooFew {
			bad = append(bad, wire.Problems{{Field: fault.Field(i), Description: fault.Text}}...)
		}
	}
	if len(bad) > 0 {
		return bad
	}
	return nil
}

// expected returns a figure without values: its error, grade and reason.
func expected(f measure.Figure) *pb.Measure {
	m := &pb.Measure{Name: f.Name, Unit: f.Unit, Grade: pb.Grade(f.Grade), Reason: f.Reason}
	if f.Known() {
		m.Sd = &f.SD
	}
	return m
}

// poses are those of the cameras that were located: in court axes by court marks,
// else (one camera) by the body, in level axes with the origin under the player and X
// where he faces.
func poses(l *check.Look) []*pb.CheckSetupResponse_CameraPose {
	var out []*pb.CheckSetupResponse_CameraPose
	for i, p := range l.Poses() {
		if p.Pose == nil {
			continue
		}
		c := p.Pose.Center()
		out = append(out, &pb.CheckSetupResponse_CameraPose{
			Camera: uint32(i), PositionM: []float64{c.X, c.Y, c.Z}, Rotation: p.Pose.R[:],
			FocalPx: p.Pose.Focal, ReprojectionRmsPx: p.RMS,
		})
	}
	return out
}
