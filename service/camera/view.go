package camera

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// View returns the viewpoint of a camera with a pose in court axes: the nearest of
// the four to its viewing direction.
func (p *Pose) View() Viewpoint {
	f := p.Forward()
	// Behind looks along X, the right side along −Z.
	return viewAt(geom.Angle(math.Atan2(-f.Z, f.X)))
}

// ViewOf returns the viewpoint of a camera that looks along forward where the net lies
// along net, both in axes with Y up; unknown where either is vertical.
func ViewOf(forward, net geom.Vec3) Viewpoint {
	f, x := forward.Flat(), net.Flat()
	if f == (geom.Vec3{}) || x == (geom.Vec3{}) {
		return ViewUnknown
	}
	right := x.Cross(geom.Vec3{Y: 1})
	return viewAt(geom.Angle(math.Atan2(-f.Dot(right), f.Dot(x))))
}

// viewAt names the viewpoint at an angle: 0 behind, 90° at the player's right, 180°
// in front, −90° at his left.
func viewAt(a geom.Angle) Viewpoint {
	d := a.Wrapped().Degrees()
	switch {
	case math.Abs(d) <= 45:
		return ViewBehind
	case math.Abs(d) >= 135:
		return ViewFront
	case d > 0:
		return ViewRight
	}
	return ViewLeft
}

// Facing is how a camera stands to the player, from the player's own front.
type Facing struct {
	View  Viewpoint
	Angle geom.Angle // 0: behind; 90°: at the player's right; 180°: in front
	// Steady is the length of the mean of the frames' unit directions, in [0, 1]: 1
	// when the player faced one way throughout.
	Steady float64
	Frames int
}

// FacingOf finds the viewpoint from the frames: the chest's direction in the world
// points, or else which shoulder is to the right and where the nose is to the ears.
// It takes the player to face the net on the whole; a server stands sideways.
// View is ViewUnknown without usable frames or when the player turned about.
func FacingOf(frames []body.Frame) Facing {
	var ahead, right float64
	n := 0
	for i := range frames {
		a, r, ok := facing3(&frames[i].World)
		if !ok {
			a, r, ok = facing2(&frames[i].Image)
		}
		if l := math.Hypot(a, r); ok && l > 0 {
			ahead, right, n = ahead+a/l, right+r/l, n+1
		}
	}
	if n == 0 {
		return Facing{}
	}
	f := Facing{Angle: geom.Angle(math.Atan2(right, ahead)), Steady: math.Hypot(ahead, right) / float64(n), Frames: n}
	if f.Steady > 0.3 {
		f.View = viewAt(f.Angle)
	}
	return f
}

// facing3 gives the direction of the belly and chest: away from the camera and to
// the image's right.
func facing3(w *[body.NumPoints]body.Seen3) (ahead, right float64, ok bool) {
	for _, p := range [2]body.Point{body.LeftShoulder, body.LeftHip} {
		l, a := world3(w, p)
		r, b := world3(w, p.Twin())
		if !a || !b {
			return 0, 0, false
		}
		// Up (−y) × (right − left) points ahead.
		d := geom.Vec3{Y: -1}.Cross(r.Sub(l)).Unit()
		ahead, right = ahead+d.Z, right+d.X
	}
	return ahead, right, true
}

// facing2 does the same from the image. Broadside, the shoulders are .21 and the nose
// .06 of the stature (about 1.15 times the ears' height over the ankles) off the
// middle: their ratios are the cosine and the sine of the angle.
func facing2(im *[body.NumPoints]body.Seen2) (ahead, right float64, ok bool) {
	l, r, nose := im[body.LeftShoulder], im[body.RightShoulder], im[body.Nose]
	ears, ok := middle2(im, body.LeftEar)
	if !ok || l.Score <= 0 || r.Score <= 0 || nose.Score <= 0 || !finite32(l.X, r.X, nose.X) {
		return 0, 0, false
	}
	const shoulders, noseAhead = 0.21, 0.06
	return float64(r.X-l.X) / shoulders, (float64(nose.X) - ears.X) / noseAhead, true
}
