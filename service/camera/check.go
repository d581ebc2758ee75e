package camera

import (
	"errors"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// Report is what one camera's setup and some frames tell before practice.
type Report struct {
	View                    Viewpoint // from the pose, the client or the frames, in this order
	Facing                  Facing
	Rate                    float64 // measured frames a second; 0 below two frames
	Jitter                  float64 // robust sd of the intervals, seconds
	Noise                   float64 // of a body point from frame to frame, pixels; 0 unknown
	Lost                    float64 // share of body points missing that are seen in some frame
	BodyHeight              float64 // ears over ankles at the tallest, pixels; 0 unknown
	ImageWidth, ImageHeight uint32  // as given, else assumed from the points
	HasPose                 bool
	Pose                    Pose        // from the court marks, or of Location in level axes
	OnCourt                 bool        // the pose is in court axes
	MarksErr                *MarksError // why the marks that were given lead to no pose; nil otherwise
	Location                Location    // from the body, when there is no pose from marks
	Clock                   SlowMotion
}

// Check looks at one camera. frames are that camera's alone; stature 0 is unknown.
func Check(cam Camera, frames []body.Frame, stature float64) Report {
	r := Report{Facing: FacingOf(frames)}
	dt, jitter := FrameInterval(frames)
	if dt > 0 {
		r.Rate, r.Jitter = 1/dt, jitter
	}
	r.Noise, r.Lost = ImageNoise(frames)
	if h := quantile(standingBody(frames, false).heights, 0.9); h > 0 {
		r.BodyHeight = h
	}
	r.place(cam, frames, stature)
	cam = Sized(cam, frames)
	r.ImageWidth, r.ImageHeight = cam.Width, cam.Height
	r.Clock = r.clock(cam, frames, dt)
	return r
}

// place finds the pose by the marks or else by the body.
func (r *Report) place(cam Camera, frames []body.Frame, stature float64) {
	r.View = cam.View
	if r.View == ViewUnknown {
		r.View = r.Facing.View
	}
	if len(cam.Marks) > 0 {
		p, err := Solve(cam)
		if err == nil {
			r.Pose, r.HasPose, r.OnCourt, r.View = p, true, true, p.View()
		} else {
			errors.As(err, &r.MarksErr)
		}
	}
	loc, err := Locate(cam, frames, Upright(frames), r.View)
	if err != nil {
		loc, err = LocateByStature(cam, frames, stature, r.View)
	}
	if err != nil {
		return
	}
	r.Location = loc
	if !r.HasPose {
		r.Pose, r.HasPose = loc.Pose, true
	}
}

func (r *Report) clock(cam Camera, frames []body.Frame, dt float64) SlowMotion {
	if len(r.Location.Hips) == 0 {
		return CheckClock(nil, 0, Tempo{}, cam, dt)
	}
	return r.Location.Clock(cam, frames, worldScaleSD, false)
}

// ImageNoise is the noise of a body point from frame to frame, pixels (0: unknown), as
// the median over points of what differs from a smooth path, and the share of points
// missing among those seen at all.
func ImageNoise(frames []body.Frame) (noise, lost float64) {
	seen := paths(frames)
	var each []float64
	samples, points := 0, 0
	for k := range body.NumBody {
		s := &seen[k]
		if len(s.t) == 0 {
			continue
		}
		samples, points = samples+len(s.t), points+1
		if len(s.t) >= 12 {
			each = append(each, trackNoise(track2{s.t, [][]float64{s.x, s.y}}))
		}
	}
	if len(each) > 0 {
		noise = signal.Median(each)
	}
	if points > 0 {
		lost = 1 - float64(samples)/float64(points*len(frames))
	}
	return noise, lost
}

// PointError is the covariance of a world point that cameras will see, m², in world axes.
type PointError struct {
	Noise geom.Mat3 // of one frame, from the image noise
	Pose  geom.Mat3 // the same in all frames, from the poses' errors
}

// ExpectedError propagates image noise (pixels, one for each camera) and the poses'
// covariances to a world point. depthSD is what is known of the point's distance along
// each camera's ray beside the image (a body model, a racket's length), metres;
// +Inf or 0: nothing, and then one camera leaves the point open (false).
func ExpectedError(poses []Pose, sigma []float64, at geom.Vec3, depthSD float64) (PointError, bool) {
	if len(poses) == 0 || len(sigma) != len(poses) {
		return PointError{}, false
	}
	var info geom.Mat3
	for i := range poses {
		if _, _, ok := poses[i].Project(at); !ok || !(sigma[i] > 0) {
			return PointError{}, false
		}
		jx, jy := poses[i].Jacobian(at)
		w := 1 / sq(sigma[i])
		addOuter(&info, jx, jx, w)
		addOuter(&info, jy, jy, w)
		if depthSD > 0 && !math.IsInf(depthSD, 1) {
			d := at.Sub(poses[i].Center()).Unit()
			addOuter(&info, d, d, 1/sq(depthSD))
		}
	}
	cov, ok := invert3(info)
	if !ok {
		return PointError{}, false
	}
	e := PointError{Noise: cov}
	for i := range poses {
		addPoseError(&e.Pose, &poses[i], sigma[i], at, cov)
	}
	return e, true
}

// addPoseError adds what one pose's error does to the least-squares point: a change δ of
// the pose moves the pixels by J·δ and the point by −C·Gᵀ·W·J·δ, with G the pixel's
// derivatives by the point.
func addPoseError(m *geom.Mat3, p *Pose, sigma float64, at geom.Vec3, cov geom.Mat3) {
	gx, gy := p.Jacobian(at)
	jx, jy := p.ParamJacobian(at)
	w := 1 / sq(sigma)
	var cols [numParams]geom.Vec3
	for k := range cols {
		cols[k] = cov.Apply(gx.Scale(-w * jx[k]).Add(gy.Scale(-w * jy[k])))
	}
	for a := range cols {
		for b := range cols {
			addOuter(m, cols[a], cols[b], p.Cov[a][b])
		}
	}
}
