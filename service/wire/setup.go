package wire

import (
	"fmt"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
)

// What a setup may hold. Common practice, no source: far beyond any real rig,
// close enough to bound memory.
const (
	MaxCameras     = 8   // as the machine's own limit
	MaxPointNames  = 256 // names in a POINT_LAYOUT_NAMED
	maxImagePixels = 100_000
	maxName        = 64 // bytes of a point's name
)

// Intake is a setup made ready: what the machine is told, and how its frames
// are to be read.
type Intake struct {
	Setup    swing.Setup
	Layout   body.Layout
	Locale   string
	Warnings []measure.Warning
}

// Cameras returns how many cameras may deliver frames: one when none was described.
func (in *Intake) Cameras() int { return max(1, len(in.Setup.Cameras)) }

// Setup checks and converts a setup; path is its place in the request
// ("setup"). The error is of type Problems.
func Setup(s *pb.Setup, path string) (Intake, error) {
	if s == nil {
		return Intake{}, Problems{{path, "is required"}}
	}
	var bad Problems
	in := Intake{Locale: s.GetLocale()}
	in.Layout, in.Warnings = layout(s, path, &bad)
	in.Setup = swing.Setup{
		Player:       player(s.GetPlayer(), path+".player", &bad),
		RacketLength: racketLength(s.GetRacket(), path+".racket", &bad),
		Axes:         camera.Axes(enum(int32(s.GetWorldAxes()), int32(camera.AxesLevel), path+".world_axes", &bad)),
		Cameras:      cameras(s.GetCameras(), path+".cameras", &bad),
		Expected:     body.Stroke(enum(int32(s.GetExpectedStroke()), int32(body.NumStrokes)-1, path+".expected_stroke", &bad)),
		Trace:        s.GetWithTrace(),
	}
	bad.check(len(s.GetLocale()) <= maxName, path+".locale", "is no BCP 47 tag")
	return in, bad.orNil()
}

// Clock checks and converts what an earlier stream found out about its clock; nil
// is nothing.
func Clock(c *pb.SettledClock, path string) (swing.Clock, error) {
	var bad Problems
	if c == nil {
		return swing.Clock{}, nil
	}
	f, sd := c.GetSlowMotionFactor(), c.GetSd()
	bad.check(f > 0 && f <= maxSlowMotion, path+".slow_motion_factor", "must be over 0, at most %g", float64(maxSlowMotion))
	bad.check(sd >= 0 && sd <= maxSlowMotion, path+".sd", "must be from 0 to %g", float64(maxSlowMotion))
	return swing.Clock{Factor: f, SD: sd, Stated: c.GetStated(), Doubt: c.GetInDoubt()}, bad.orNil()
}

// maxSlowMotion is the most that a clip may be slowed: 1000 times.
const maxSlowMotion = 1e3

// SettledClock converts what a machine found out about its clock; nil when it is
// not settled.
func SettledClock(c swing.Clock) *pb.SettledClock {
	if c.Factor == 0 {
		return nil
	}
	return &pb.SettledClock{SlowMotionFactor: c.Factor, Sd: c.SD, Stated: c.Stated, InDoubt: c.Doubt}
}

// Player checks and converts a player; nil is a player of whom nothing is known.
func Player(p *pb.Player, path string) (body.Player, error) {
	var bad Problems
	out := player(p, path, &bad)
	return out, bad.orNil()
}

func player(p *pb.Player, path string, bad *Problems) body.Player {
	h := p.GetStatureM()
	bad.check(h == 0 || h >= 0.8 && h <= 2.5, path+".stature_m", "must be 0 (unknown) or 0.8 to 2.5, not %g", h)
	return body.Player{
		Hand:    body.Hand(enum(int32(p.GetDominantHand()), int32(body.LeftHanded), path+".dominant_hand", bad)),
		Stature: h,
		Level:   body.Level(enum(int32(p.GetLevel()), int32(body.Elite), path+".level", bad)),
		Junior:  p.GetJunior(),
	}
}

func racketLength(r *pb.Racket, path string, bad *Problems) float64 {
	l := r.GetLengthM()
	bad.check(l == 0 || l >= 0.4 && l <= 0.8, path+".length_m", "must be 0 (unknown) or 0.4 to 0.8, not %g", l)
	return l
}

// enum checks that a wire enum is one that this version knows, 0 to most.
func enum(v, most int32, path string, bad *Problems) uint8 {
	if v < 0 || v > most {
		bad.add(path, "unknown value %d", v)
		return 0
	}
	return uint8(v)
}

func layout(s *pb.Setup, path string, bad *Problems) (body.Layout, []measure.Warning) {
	switch s.GetLayout() {
	case pb.PointLayout_POINT_LAYOUT_COCO_17:
		return body.COCO17, nil
	case pb.PointLayout_POINT_LAYOUT_BLAZEPOSE_33:
		return body.BlazePose33, nil
	case pb.PointLayout_POINT_LAYOUT_BODY_25:
		return body.Body25, nil
	case pb.PointLayout_POINT_LAYOUT_NAMED:
		return namedLayout(s.GetPointNames(), path+".point_names", bad)
	case pb.PointLayout_POINT_LAYOUT_UNSPECIFIED:
		bad.add(path+".layout", "is required")
	default:
		bad.add(path+".layout", "unknown layout %d", s.GetLayout())
	}
	return nil, nil
}

func namedLayout(names []string, path string, bad *Problems) (body.Layout, []measure.Warning) {
	bad.check(len(names) > 0, path, "is required for POINT_LAYOUT_NAMED")
	if len(names) > MaxPointNames {
		bad.add(path, "at most %d names, not %d", MaxPointNames, len(names))
		return nil, nil
	}
	seen := map[string]bool{}
	for i, name := range names {
		at := fmt.Sprintf("%s[%d]", path, i)
		bad.check(name != "" && len(name) <= maxName, at, "must be 1 to %d bytes", maxName)
		bad.check(!seen[name], at, "%q stands twice", name)
		seen[name] = true
	}
	layout, unknown := body.NamedLayout(names)
	var warnings []measure.Warning
	for _, name := range unknown {
		warnings = append(warnings, measure.Warning{
			Code: "unknown_point_name", Text: fmt.Sprintf("The point name %q is not known; its points are passed over.", name),
		})
	}
	return layout, warnings
}

func cameras(cs []*pb.Camera, path string, bad *Problems) []camera.Camera {
	if len(cs) > MaxCameras {
		bad.add(path, "at most %d cameras, not %d", MaxCameras, len(cs))
		return nil
	}
	out := make([]camera.Camera, len(cs))
	for i, c := range cs {
		out[i] = oneCamera(c, fmt.Sprintf("%s[%d]", path, i), bad)
	}
	return out
}

func oneCamera(c *pb.Camera, path string, bad *Problems) camera.Camera {
	size := func(v uint32, field string) {
		bad.check(v > 0 && v <= maxImagePixels, path+field, "must be 1 to %d pixels, not %d", maxImagePixels, v)
	}
	size(c.GetWidthPx(), ".width_px")
	size(c.GetHeightPx(), ".height_px")
	upTo := func(v, most float64, field string) float64 {
		bad.check(v >= 0 && v <= most, path+field, "must be 0 (unknown) to %g, not %g", most, v)
		return v
	}
	out := camera.Camera{
		Width:       c.GetWidthPx(),
		Height:      c.GetHeightPx(),
		Focal:       upTo(c.GetFocalPx(), maxImagePixels, ".focal_px"),
		CaptureRate: upTo(c.GetCaptureRateHz(), 100_000, ".capture_rate_hz"),
		SlowMotion:  upTo(c.GetSlowMotionFactor(), 1000, ".slow_motion_factor"),
		View:        camera.Viewpoint(enum(int32(c.GetViewpoint()), int32(camera.ViewLeft), path+".viewpoint", bad)),
		Marks:       marks(c.GetCourtMarks(), path+".court_marks", bad),
	}
	if d := c.GetClockOffset(); d != nil {
		out.ClockOffset, out.HasClockOffset = d.AsDuration().Seconds(), true
		bad.check(d.CheckValid() == nil && math.Abs(out.ClockOffset) <= 3600, path+".clock_offset", "must be within an hour")
	}
	return out
}

// marks converts court marks; each may be seen at most once, so no camera has
// more than there are kinds.
func marks(ms []*pb.MarkedPoint, path string, bad *Problems) []camera.MarkedPoint {
	last := pb.CourtMark_COURT_MARK_FAR_BASELINE_RIGHT_DOUBLES
	if len(ms) > int(last) {
		bad.add(path, "at most %d marks, not %d", int(last), len(ms))
		return nil
	}
	seen := map[pb.CourtMark]bool{}
	var out []camera.MarkedPoint
	for i, m := range ms {
		at := fmt.Sprintf("%s[%d]", path, i)
		bad.check(m.GetMark() > 0 && m.GetMark() <= last, at+".mark", "unknown mark %d", m.GetMark())
		bad.check(!seen[m.GetMark()], at+".mark", "%s stands twice", m.GetMark())
		bad.check(math.Abs(m.GetXPx()) <= maxImagePixels, at+".x_px", "must be a pixel, not %g", m.GetXPx())
		bad.check(math.Abs(m.GetYPx()) <= maxImagePixels, at+".y_px", "must be a pixel, not %g", m.GetYPx())
		seen[m.GetMark()] = true
		out = append(out, camera.MarkedPoint{Mark: camera.Mark(m.GetMark()), X: m.GetXPx(), Y: m.GetYPx()})
	}
	return out
}
