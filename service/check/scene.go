package check

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/swing"
)

// eye is a camera that films the made strokes.
type eye struct {
	sighting
	pose          *camera.Pose // court or level axes; nil: it gives points in space alone
	width, height float64      // pixels
	offset        float64      // s, added to its times to get the reference clock's
}

// scene is who stands where, seen by whom.
type scene struct {
	setup   swing.Setup // as the machine is told; Expected aside
	eyes    []eye
	court   bool      // axes are the court's
	place   geom.Vec3 // of the player on the ground
	heading float64   // of the direction that he faces, radians from X toward +Z
	doubt   float64   // of the heading, radians; of other captures than the present one
	stature float64   // m
	slow    float64   // clip seconds per real second
}

// scene puts cameras and player into common axes; ok is false where nothing says
// from where the motion would be seen.
func (l *Look) scene() (scene, bool) {
	s := scene{setup: l.request.Setup, stature: l.stature, slow: l.slow()}
	s.setup.Trace = false
	s.setup.Cameras = slices.Clone(s.setup.Cameras)
	if len(s.setup.Cameras) == 0 {
		s.setup.Cameras = []camera.Camera{{}}
	}
	for i := range s.setup.Cameras {
		if s.slow != 1 || s.setup.Cameras[i].SlowMotion != 0 {
			s.setup.Cameras[i].SlowMotion = s.slow
		}
	}
	switch {
	case l.inSpace():
		s.eyes = []eye{{sighting: l.views[0]}}
		s.court = s.setup.Axes == camera.AxesCourt
		return s, true
	case l.onCourt():
		s.court = true
		for i := range l.views {
			s.eyes = append(s.eyes, l.eye(i))
		}
		s.place = l.feet()
		return s, true
	case !l.views[0].report.HasPose:
		return s, false
	}
	s.eyes = []eye{l.eye(0)}
	if s.court = l.views[0].report.OnCourt; s.court {
		s.place = l.feet()
		return s, true
	}
	s.heading = headingOf(&l.views[0].report)
	return s, true
}

// headingDoubt is how far, radians, a standing player may face from the direction of play, which
// a second of him tells where no court lines do: a made one was
// off by 0.3. A view from behind promises other figures than one from so far beside it. Own estimate.
const headingDoubt = 0.25

// turned is the scene with its player turned by so many doubts of his heading.
func (s scene) turned(doubts float64) *scene {
	s.heading += doubts * s.doubt
	return &s
}

// slow is the clip's slow-motion factor: gravity's where it is sure, else as stated,
// else true time.
func (l *Look) slow() float64 {
	c := l.views[0].report.Clock
	k := 1.0
	switch {
	case c.Verified || c.Snapped:
		k = c.Factor
	case c.Stated > 0:
		k = c.Stated
	}
	if !(k >= 0.3 && k <= 1000) {
		return 1
	}
	return k
}

// inSpace reports whether frames hold world points in level axes.
func (l *Look) inSpace() bool {
	a := l.request.Setup.Axes
	return (a == camera.AxesCourt || a == camera.AxesLevel) && l.views[0].seesWorld()
}

// onCourt reports whether every camera is located by court marks.
func (l *Look) onCourt() bool {
	for i := range l.views {
		if !l.views[i].report.OnCourt {
			return false
		}
	}
	return true
}

func (l *Look) eye(i int) eye {
	v := l.views[i]
	e := eye{sighting: v, pose: &l.views[i].report.Pose, width: float64(v.report.ImageWidth), height: float64(v.report.ImageHeight)}
	if i < len(l.request.Setup.Cameras) {
		e.offset = l.request.Setup.Cameras[i].ClockOffset
	}
	return e
}

// ankleShare is the height of the ankle's joint over the ground as a share of
// stature, hipShare that of the hips (Drillis & Contini 1966, from memory).
const ankleShare, hipShare = 0.039, 0.53

// feet is where the player stands on the court: where the rays to his feet, else to
// his hips, meet their height. Without sight of him it is the baseline's middle
// where the first camera sees that, else where it looks.
func (l *Look) feet() geom.Vec3 {
	for _, from := range []struct {
		p      body.Point
		height float64
	}{{body.LeftAnkle, ankleShare * l.stature}, {body.LeftHip, hipShare * l.stature}} {
		if at, ok := l.standing(from.p, from.height); ok {
			return at
		}
	}
	v := &l.views[0].report
	x, y, ok := v.Pose.Project(geom.Vec3{Y: 1})
	if ok && x >= 0 && y >= 0 && x < float64(v.ImageWidth) && y < float64(v.ImageHeight) {
		return geom.Vec3{}
	}
	if at, ok := meetLevel(v.Pose.Center(), v.Pose.Forward(), 1); ok {
		return at
	}
	return geom.Vec3{}
}

// standing is the mean over cameras of the median place at which the rays to a pair
// of points pass a height.
func (l *Look) standing(p body.Point, height float64) (geom.Vec3, bool) {
	var sum geom.Vec3
	n := 0.0
	for i := range l.views {
		v := &l.views[i]
		if !v.report.OnCourt {
			continue
		}
		var x, z []float64
		for j := range l.request.Frames {
			f := &l.request.Frames[j]
			a, b := f.Image[p], f.Image[p.Twin()]
			if f.Camera != v.camera || a.Score <= 0 || b.Score <= 0 {
				continue
			}
			from, to := v.report.Pose.Ray(float64(a.X+b.X)/2, float64(a.Y+b.Y)/2)
			if at, ok := meetLevel(from, to, height); ok {
				x, z = append(x, at.X), append(z, at.Z)
			}
		}
		if len(x) > 0 {
			sum, n = sum.Add(geom.Vec3{X: signal.Median(x), Z: signal.Median(z)}), n+1
		}
	}
	if n == 0 {
		return sum, false
	}
	return sum.Scale(1 / n), true
}

// meetLevel is where a ray comes down to a height, put on the ground; ok is false
// for one that does not within 60 m.
func meetLevel(from, to geom.Vec3, height float64) (geom.Vec3, bool) {
	d := (height - from.Y) / to.Y
	if !(d > 0.3 && d < 60) {
		return geom.Vec3{}, false
	}
	return from.Add(to.Scale(d)).Flat(), true
}

// nominal is the angle of each viewpoint as camera.Facing counts it.
var nominal = [...]float64{camera.ViewUnknown: 0, camera.ViewBehind: 0, camera.ViewFront: math.Pi, camera.ViewRight: math.Pi / 2, camera.ViewLeft: -math.Pi / 2}

// headingOf is how far the player faces from level X, for which a camera looks from
// just its viewpoint: a facing of a from a viewpoint at angle n is a turn by a − n.
func headingOf(r *camera.Report) float64 {
	if r.Facing.Frames == 0 || r.Facing.View != r.View {
		return 0
	}
	return geom.Angle(r.Facing.Angle.Radians() - nominal[r.View]).Wrapped().Radians()
}

// stand returns the motion's point p, made about start, where the player stands.
func (s *scene) stand(p, start geom.Vec3) geom.Vec3 {
	sin, cos := math.Sincos(s.heading)
	d := p.Sub(start)
	return geom.Vec3{X: s.place.X + cos*d.X - sin*d.Z, Y: p.Y, Z: s.place.Z + sin*d.X + cos*d.Z}
}

// visibleMarks lists the court marks that a camera in court axes sees, to a pixel.
func (e *eye) visibleMarks(rng *rand.Rand) (out []camera.MarkedPoint) {
	for m := camera.Mark(1); m <= lastMark; m++ {
		at, ok := m.Point()
		if !ok {
			continue
		}
		x, y, ok := e.pose.Project(at)
		if ok && e.inside(x, y) {
			out = append(out, camera.MarkedPoint{Mark: m, X: x + rng.NormFloat64(), Y: y + rng.NormFloat64()})
		}
	}
	return out
}

const lastMark = 22

func (e *eye) inside(x, y float64) bool { return x >= 0 && y >= 0 && x < e.width && y < e.height }
