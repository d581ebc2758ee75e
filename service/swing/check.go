package swing

import (
	"fmt"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

const (
	// maxCameras bounds what one stream may hold: more views than that add
	// memory and no accuracy (common practice, no source).
	maxCameras = 8

	// Coordinates beyond these are no measurement: 1 km, and a hundred thousand pixels.
	maxMetres, maxPixels = 1e3, 1e5

	// maxTimeUS keeps sums of times far from overflow: 285 years.
	maxTimeUS = int64(1) << 53
)

// SetupError says which field of a Setup is unfit, in the contract's names.
type SetupError struct{ Field, Reason string }

// Error returns field and reason.
func (e *SetupError) Error() string { return e.Field + ": " + e.Reason }

// FrameError says which field of which frame is unfit, in the contract's names.
type FrameError struct {
	Camera uint8
	Index  uint32
	Field  string
	Reason string
}

// Error returns frame, field and reason.
func (e *FrameError) Error() string {
	return fmt.Sprintf("frame %d of camera %d: %s: %s", e.Index, e.Camera, e.Field, e.Reason)
}

// check returns the first unfit field of a setup, nil when there is none.
func (s *Setup) check() error {
	switch {
	case s.Axes > camera.AxesLevel:
		return &SetupError{"world_axes", "unknown"}
	case s.Player.Hand > body.LeftHanded:
		return &SetupError{"player.dominant_hand", "unknown"}
	case !(s.Player.Stature == 0 || s.Player.Stature >= 0.8 && s.Player.Stature <= 2.5):
		return &SetupError{"player.stature_m", "must be 0 or from 0.8 to 2.5"}
	case !(s.RacketLength == 0 || s.RacketLength >= 0.4 && s.RacketLength <= 0.8):
		return &SetupError{"racket.length_m", "must be 0 or from 0.4 to 0.8"}
	case s.Expected >= body.NumStrokes:
		return &SetupError{"expected_stroke", "unknown"}
	case len(s.Cameras) > maxCameras:
		return &SetupError{"cameras", fmt.Sprintf("at most %d", maxCameras)}
	}
	for i := range s.Cameras {
		if err := checkCamera(i, &s.Cameras[i]); err != nil {
			return err
		}
	}
	return nil
}

func checkCamera(i int, c *camera.Camera) error {
	for _, f := range [...]struct {
		name   string
		v, top float64
	}{
		{"focal_px", c.Focal, maxPixels},
		{"capture_rate_hz", c.CaptureRate, 1e5},
		{"slow_motion_factor", c.SlowMotion, 1e3},
	} {
		if !(f.v >= 0 && f.v <= f.top) {
			return &SetupError{fmt.Sprintf("cameras[%d].%s", i, f.name), fmt.Sprintf("must be from 0 to %g", f.top)}
		}
	}
	if c.HasClockOffset && !(math.Abs(c.ClockOffset) <= 3600) {
		return &SetupError{fmt.Sprintf("cameras[%d].clock_offset", i), "must be within an hour"}
	}
	return nil
}

// checkFrame returns what is unfit about a frame, nil when nothing is.
func (m *Machine) checkFrame(f *body.Frame) error {
	if int(f.Camera) >= len(m.cams) {
		return frameError(f, "camera", "not in the setup")
	}
	if f.TimeUS > maxTimeUS || f.TimeUS < -maxTimeUS {
		return frameError(f, "time_us", "out of range")
	}
	if c := &m.cams[f.Camera]; c.received > 0 && f.TimeUS+m.aheadOf(f.Camera) <= c.lastUS {
		return frameError(f, "time_us", "must rise from frame to frame of a camera")
	}
	return checkPoints(f)
}

func frameError(f *body.Frame, field, reason string) error {
	return &FrameError{f.Camera, f.Index, field, reason}
}

func checkPoints(f *body.Frame) error {
	for p := range body.NumPoints {
		w, i := &f.World[p], &f.Image[p]
		switch {
		case w.Score == 0:
		case !(w.Score > 0 && w.Score <= math.MaxFloat32):
			return frameError(f, fieldOf(p, "world"), "score must be finite and not negative")
		case !(within(w.X, maxMetres) && within(w.Y, maxMetres) && within(w.Z, maxMetres)):
			return frameError(f, fieldOf(p, "world"), p.String()+" must be finite, in metres")
		}
		switch {
		case i.Score == 0:
		case !(i.Score > 0 && i.Score <= math.MaxFloat32):
			return frameError(f, fieldOf(p, "image"), "score must be finite and not negative")
		case !(within(i.X, maxPixels) && within(i.Y, maxPixels)):
			return frameError(f, fieldOf(p, "image"), p.String()+" must be finite, in pixels")
		}
	}
	return nil
}

// within reports whether |x| ≤ top; false for NaN.
func within(x float32, top float32) bool { return x >= -top && x <= top }

// fieldOf returns the contract's name of the list that holds a point.
func fieldOf(p body.Point, kind string) string {
	switch {
	case p.IsRacket():
		return "racket_" + kind
	case p == body.Ball:
		return "ball_" + kind
	}
	return kind
}
