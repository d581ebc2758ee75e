package check

import (
	"errors"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/swing"
)

// Request is what is checked.
type Request struct {
	Setup  swing.Setup
	Layout body.Layout  // which body points frames can hold; used when no frame shows any
	Frames []body.Frame // a second or so, every camera's
	Locale string       // BCP 47, for advice
}

// faults is how well one camera's points are seen.
type faults struct {
	image, imageRacket    signal.Noise // pixels
	across, depth, racket signal.Noise // world points, m: of the body across and along the camera's axis, of the racket
	lost, lostRacket      float64
	lostNear              float64 // of tip and throat near contact, besides
}

// What is taken where the frames do not tell: the phone's column of the
// conditions in which the service is scored (accuracy.md).
const (
	usualPixels   = 2.0   // px
	usualLost     = 0.05  // share of points
	usualLostNear = 0.15  // of tip and throat within nearContact of contact: blur, which nobody who stands still shows
	nearContact   = 0.050 // s
	usualRate     = 60.0  // Hz
	mostRate      = 300.0 // Hz: the machine gains nothing beyond, and films cost
)

// sighting is what one camera sees.
type sighting struct {
	camera   uint8
	report   camera.Report
	rate     float64 // frames a second of the clip's clock
	jitter   float64 // s
	imaged   [body.NumPoints]bool
	placed   [body.NumPoints]bool // world points
	faults   faults
	observed bool // frames came from it
}

// Look is what a setup and some frames tell.
type Look struct {
	request *Request
	views   []sighting
	stature float64 // as said, else as seen, else usual; m
}

// usualStature stands in where nothing tells, as in the machine, m.
const usualStature = 1.72

// NewLook reads a request.
func NewLook(r *Request) *Look {
	l := &Look{request: r}
	cams := r.Setup.Cameras
	if len(cams) == 0 {
		cams = []camera.Camera{{}}
	}
	for i := range cams {
		l.views = append(l.views, see(cams[i], uint8(i), r))
	}
	l.stature = r.Setup.Player.Stature
	if l.stature == 0 {
		l.stature = l.seenStature()
	}
	return l
}

// Reports returns what each camera's setup and frames tell.
func (l *Look) Reports() []camera.Report {
	var out []camera.Report
	for i := range l.views {
		out = append(out, l.views[i].report)
	}
	return out
}

func see(cam camera.Camera, index uint8, r *Request) sighting {
	var own []body.Frame
	for i := range r.Frames {
		if r.Frames[i].Camera == index {
			own = append(own, r.Frames[i])
		}
	}
	v := sighting{camera: index, report: camera.Check(cam, own, r.Setup.Player.Stature), observed: len(own) > 0}
	v.rate, v.jitter = v.report.Rate, v.report.Jitter
	if !(v.rate > 0) {
		v.rate, v.jitter = usualRate, 0
		if cam.CaptureRate > 0 {
			v.rate = cam.CaptureRate / math.Max(1, cam.SlowMotion)
		}
	}
	v.rate = math.Max(5, math.Min(v.rate, mostRate))
	v.jitter = math.Min(v.jitter, 0.2/v.rate)
	v.points(own, r)
	v.measure(own)
	return v
}

// seenEnough is the share of frames in which a point must show to count as one
// that the estimator delivers.
const seenEnough = 0.2

// points notes what is delivered.
func (v *sighting) points(own []body.Frame, r *Request) {
	var image, world [body.NumPoints]int
	for i := range own {
		for p := range body.NumPoints {
			if own[i].Image[p].Score > 0 {
				image[p]++
			}
			if own[i].World[p].Score > 0 {
				world[p]++
			}
		}
	}
	for p := range body.NumPoints {
		least := max(1, int(seenEnough*float64(len(own))))
		if p == body.Ball {
			least = 3 // it comes and goes
		}
		v.imaged[p], v.placed[p] = image[p] >= least, world[p] >= least
	}
	if len(own) == 0 {
		for _, p := range r.Layout {
			if p < body.NumPoints {
				v.imaged[p] = true
			}
		}
	}
}

// racketSeen reports whether the racket can be followed.
func (v *sighting) racketSeen() bool {
	of := func(s *[body.NumPoints]bool) bool {
		return s[body.RacketTip] && (s[body.RacketThroat] || s[body.RacketButt])
	}
	return of(&v.imaged) || of(&v.placed)
}

// seesWorld reports whether the estimator gives world points.
func (v *sighting) seesWorld() bool {
	return v.placed[body.LeftShoulder] || v.placed[body.RightShoulder]
}

// measure learns noise and losses.
func (v *sighting) measure(own []body.Frame) {
	step := 1 / v.rate
	c := signal.UsualColour
	if v.seesWorld() {
		c = colourOf(own, step)
	}
	f := faults{image: c.Split(usualPixels, step), lost: usualLost, lostRacket: usualLost, lostNear: usualLostNear}
	f.image = signal.Noise{White: usualPixels * math.Sqrt(1-c.Share), Lasting: usualPixels * math.Sqrt(c.Share), Memory: c.Memory}
	if n, ok := measured(v.imageDifferences(own, 0, body.Point(body.NumBody)), c, step); ok {
		f.image = n
	}
	f.imageRacket = f.image
	if n, ok := measured(v.imageDifferences(own, body.RacketTip, body.Ball), c, step); ok {
		f.imageRacket = n
	}
	if n, ok := measured(v.worldDifferences(own, 0, body.Point(body.NumBody), 0, 1), c, step); ok {
		f.across, f.depth, f.racket = n, n, n
	}
	if n, ok := measured(v.worldDifferences(own, 0, body.Point(body.NumBody), 2), c, step); ok {
		f.depth = n
	}
	if n, ok := measured(v.worldDifferences(own, body.RacketTip, body.Ball, 0, 1, 2), c, step); ok {
		f.racket = n
	}
	if lost, ok := v.lost(own, 0, body.Point(body.NumBody)); ok {
		f.lost = lost
	}
	f.lostRacket = f.lost
	if lost, ok := v.lost(own, body.RacketTip, body.Ball); ok {
		f.lostRacket = lost
	}
	v.faults = f
}

// imageDifferences collects those of the points from a to before b.
func (v *sighting) imageDifferences(own []body.Frame, a, b body.Point) (d []float64) {
	for p := a; p < b; p++ {
		if !v.imaged[p] {
			continue
		}
		d = differences(d, own, func(f *body.Frame) (float64, bool) { return float64(f.Image[p].X), f.Image[p].Score > 0 })
		d = differences(d, own, func(f *body.Frame) (float64, bool) { return float64(f.Image[p].Y), f.Image[p].Score > 0 })
	}
	return d
}

// worldDifferences collects those of the points from a to before b along some axes.
func (v *sighting) worldDifferences(own []body.Frame, a, b body.Point, axes ...int) (d []float64) {
	for p := a; p < b; p++ {
		for _, k := range axes {
			if v.placed[p] {
				d = differences(d, own, func(f *body.Frame) (float64, bool) {
					w := f.World[p]
					return [3]float64{float64(w.X), float64(w.Y), float64(w.Z)}[k], w.Score > 0
				})
			}
		}
	}
	return d
}

// leastFrames is how many frames tell a share of losses.
const leastFrames = 10

// lost is the share of delivered points that frames lack, from a to before b.
func (v *sighting) lost(own []body.Frame, a, b body.Point) (float64, bool) {
	have, all := 0, 0
	for p := a; p < b; p++ {
		if !v.imaged[p] && !v.placed[p] {
			continue
		}
		for i := range own {
			all++
			if own[i].Image[p].Score > 0 || own[i].World[p].Score > 0 {
				have++
			}
		}
	}
	if len(own) < leastFrames || all == 0 {
		return 0, false
	}
	return 1 - float64(have)/float64(all), true
}

// bodyShare is trunk + thigh + shank as a share of stature: 0.288 + 0.245 + 0.246
// (Drillis & Contini 1966, from memory).
const bodyShare = 0.779

// seenStature is the stature that world points show, else the usual one. In
// camera axes it is the estimator's own body, whose points the films copy.
func (l *Look) seenStature() float64 {
	var found []float64
	for i := range l.request.Frames {
		w := &l.request.Frames[i].World
		mid := func(p body.Point) (geom.Vec3, bool) {
			return at3(w[p]).Lerp(at3(w[p.Twin()]), 0.5), w[p].Score > 0 && w[p.Twin()].Score > 0
		}
		s, a := mid(body.LeftShoulder)
		h, b := mid(body.LeftHip)
		k, c := mid(body.LeftKnee)
		f, d := mid(body.LeftAnkle)
		if a && b && c && d {
			found = append(found, (s.Sub(h).Norm()+h.Sub(k).Norm()+k.Sub(f).Norm())/bodyShare)
		}
	}
	if h := signal.Median(found); h > 0.9 && h < 2.2 {
		return h
	}
	return usualStature
}

func at3(s body.Seen3) geom.Vec3 { return geom.Vec3{X: float64(s.X), Y: float64(s.Y), Z: float64(s.Z)} }

// Located is a camera's pose, nil when it was not found, with the rms of the marks or
// the body about their images, pixels.
type Located struct {
	Pose *camera.Pose
	RMS  float64
}

// Poses are those of the cameras, by index: in court axes where court marks locate
// them; that of a first camera located by the body looks from level axes with the
// origin under the player and X where he faces.
func (l *Look) Poses() []Located {
	out := make([]Located, len(l.views))
	for i := range l.views {
		r := &l.views[i].report
		switch {
		case r.OnCourt:
			out[i] = Located{&r.Pose, r.Pose.RMS}
		case i == 0 && r.HasPose && !l.inSpace():
			p := r.Pose
			// The player's X in level axes, at the heading from theirs.
			p.R = p.R.Mul(geom.RotationAbout(geom.Vec3{Y: 1}, geom.Angle(-headingOf(r))))
			out[i] = Located{&p, r.Location.RMS}
		}
	}
	return out
}

// MarksFault is what is unfit about a camera's court marks; nil when they locate it.
func MarksFault(c camera.Camera) *camera.MarksError {
	_, err := camera.Solve(c)
	var fault *camera.MarksError
	if errors.As(err, &fault) {
		return fault
	}
	return nil
}
