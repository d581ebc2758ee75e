package check

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Where a move begins to be worth a film.
const (
	lowCamera  = 1.8  // m: below it a higher place is tried
	raiseBy    = 1.2  // m: a fence, or a tall stand
	smallBody  = 0.40 // share of the image's height that the standing player fills
	largeBody  = 0.62 // beyond it a racket overhead leaves the image: reach is 1.5 statures
	goodBody   = 0.55
	slowRate   = 100.0 // Hz
	fastRate   = 120.0 // Hz
	noisy      = 2.6   // px at 1080 lines: a third over the phone's column
	losing     = 0.10  // share of points
	lightNoise = 0.6   // what more light leaves of the noise: own estimate
	lightLost  = 0.4   // and of the losses: own estimate
)

// variants lists what may be tried, the likeliest help first.
func (o *Outlook) variants() (out []variant) {
	s := &o.scene
	add := func(cue string, v scene, ok bool) {
		if ok {
			out = append(out, variant{cue: cue, scene: v})
		}
	}
	e := &s.eyes[0]
	balled, ok := s.balled()
	add(cueBall, balled, ok)
	add(cueLight, s.lighter(), o.dim())
	if len(s.eyes) == 1 && e.pose != nil {
		add(cueStature, s.told(), s.setup.Player.Stature == 0)
		lined, ok := s.lined()
		add(cueLines, lined, ok)
		for _, side := range o.otherSides() {
			v, ok := s.seenFrom(side.view)
			add(side.cue, v, ok)
		}
		for _, m := range o.moves() {
			v, ok := s.moved(m.to)
			add(m.cue, v, ok)
		}
	}
	add(cueRate, s.faster(), e.rate*s.slow < slowRate)
	if len(s.eyes) == 1 && e.pose != nil {
		second, ok := s.joined()
		add(cueSecond, second, ok)
	}
	return out
}

// dim reports whether points are noisier or oftener lost than a phone's should be.
func (o *Outlook) dim() bool {
	for i := range o.scene.eyes {
		e := &o.scene.eyes[i]
		lines := math.Min(e.width, e.height)
		if e.observed && e.pose != nil && (e.faults.image.Total() > noisy*lines/1080 || e.faults.lost > losing || e.faults.lostRacket > losing) {
			return true
		}
	}
	return false
}

// copied is the scene with eyes and cameras of its own.
func (s *scene) copied() scene {
	c := *s
	c.eyes = slices.Clone(s.eyes)
	c.setup.Cameras = slices.Clone(s.setup.Cameras)
	return c
}

func (s *scene) faster() scene {
	c := s.copied()
	for i := range c.eyes {
		c.eyes[i].rate = fastRate / c.slow
		c.setup.Cameras[i].CaptureRate = 0
	}
	return c
}

func (s *scene) lighter() scene {
	c := s.copied()
	for i := range c.eyes {
		f := &c.eyes[i].faults
		f.image, f.imageRacket = f.image.Scaled(lightNoise), f.imageRacket.Scaled(lightNoise)
		f.lost, f.lostRacket, f.lostNear = lightLost*f.lost, lightLost*f.lostRacket, lightLost*f.lostNear
	}
	return c
}

// balled is the scene with the ball seen as well as the racket; ok is false where it
// is seen already, or the racket is not.
func (s *scene) balled() (scene, bool) {
	c := s.copied()
	ok := true
	for i := range c.eyes {
		e := &c.eyes[i]
		ok = ok && e.racketSeen() && !e.imaged[body.Ball] && !e.placed[body.Ball]
		e.imaged[body.Ball], e.placed[body.Ball] = e.pose != nil, e.pose == nil
	}
	return c, ok
}

// told is the scene with the player's height said.
func (s *scene) told() scene {
	c := s.copied()
	c.setup.Player.Stature = math.Round(100*c.stature) / 100
	return c
}

// otherSide is a viewpoint with its cue.
type otherSide struct {
	view camera.Viewpoint
	cue  string
}

// otherSides are worth a look: the hitting side, and behind.
func (o *Outlook) otherSides() (out []otherSide) {
	hitting := otherSide{camera.ViewRight, cueRight}
	if o.scene.setup.Player.Hand == body.LeftHanded {
		hitting = otherSide{camera.ViewLeft, cueLeft}
	}
	for _, s := range []otherSide{hitting, {camera.ViewBehind, cueBehind}} {
		side := s.view != camera.ViewBehind && (o.viewOf() == camera.ViewRight || o.viewOf() == camera.ViewLeft)
		if s.view != o.viewOf() && !side {
			out = append(out, s)
		}
	}
	return out
}

// move puts the camera elsewhere: from its place about the player's feet to another.
type move struct {
	cue string
	to  func(fromFeet geom.Vec3) geom.Vec3
}

// moves lists those that the placement asks for.
func (o *Outlook) moves() (out []move) {
	e := &o.scene.eyes[0]
	if e.pose.Center().Y < lowCamera {
		out = append(out, move{cueHigher, func(v geom.Vec3) geom.Vec3 { v.Y += raiseBy; return v }})
	}
	share := o.scene.bodyShare()
	nearer := func(v geom.Vec3) geom.Vec3 {
		flat := v.Flat().Scale(share / goodBody)
		return geom.Vec3{X: flat.X, Y: v.Y, Z: flat.Z}
	}
	switch {
	case share > 0 && share < smallBody:
		out = append(out, move{cueCloser, nearer})
	case share > largeBody:
		out = append(out, move{cueFurther, nearer})
	}
	return out
}

// bodyShare is how much of the image's height the standing player fills; 0 where he
// is out of it.
func (s *scene) bodyShare() float64 {
	e := &s.eyes[0]
	_, low, a := e.pose.Project(s.place)
	_, high, b := e.pose.Project(s.place.Add(geom.Vec3{Y: s.stature}))
	if !a || !b || !(low > high) {
		return 0
	}
	return (low - high) / e.height
}

// moved is the scene seen from another place; ok is false where the court would be lost.
func (s *scene) moved(to func(geom.Vec3) geom.Vec3) (scene, bool) {
	c := s.copied()
	at := s.place.Add(to(s.eyes[0].pose.Center().Sub(s.place)))
	return c, c.setCamera(0, at)
}

// seenFrom is the scene with the camera on another side, as far and as high.
func (s *scene) seenFrom(v camera.Viewpoint) (scene, bool) {
	c := s.copied()
	from := s.eyes[0].pose.Center().Sub(s.place)
	far := from.Flat().Norm()
	// A camera at angle a from behind looks along the heading turned by a.
	yaw := math.Pi + s.heading - nominal[v]
	sin, cos := math.Sincos(yaw)
	at := s.place.Add(geom.Vec3{X: far * cos, Y: from.Y, Z: far * sin})
	ok := c.setCamera(0, at)
	c.setup.Cameras[0].View = v
	return c, ok
}

// setCamera puts camera i at a place, aimed at the player's middle, and has it see the
// court's marks where the court is known.
func (s *scene) setCamera(i int, at geom.Vec3) bool {
	e := &s.eyes[i]
	p := aimed(e.pose, at, s.place.Add(geom.Vec3{Y: aimHeight * s.stature}))
	e.pose = &p
	s.setup.Cameras[i].View = camera.ViewUnknown
	if !s.court {
		return true
	}
	return s.mark(i)
}

// aimHeight is where a phone is aimed at, as a share of stature: the racket reaches
// to 1.5 statures overhead.
const aimHeight = 0.65

// leastMarks is how many marks a new place must show, one more than a pose needs.
const leastMarks = 5

// mark gives camera i the marks that it sees.
func (s *scene) mark(i int) bool {
	m := s.eyes[i].visibleMarks(seedOf(0x6d61726b, uint8(i)))
	s.setup.Cameras[i].Marks = m
	return len(m) >= leastMarks
}

// aimed is a lens like p's at a place, level, looking at a target.
func aimed(p *camera.Pose, at, target geom.Vec3) camera.Pose {
	ahead := target.Sub(at).Unit()
	right := ahead.Cross(geom.Vec3{Y: 1}).Unit()
	q := camera.Pose{Focal: p.Focal, K1: p.K1, CX: p.CX, CY: p.CY}
	q.R = geom.Rows(right, ahead.Cross(right), ahead)
	q.T = q.R.Apply(at).Scale(-1)
	return q
}

// lined is the scene with court lines in the picture: as if a player near the middle
// of the baseline, with the camera where it stands about him.
func (s *scene) lined() (scene, bool) {
	if s.court {
		return scene{}, false
	}
	c := s.copied()
	from := s.eyes[0].pose.Center().Sub(s.place)
	sin, cos := math.Sincos(-s.heading)
	c.place, c.heading, c.court = geom.Vec3{X: -0.5}, 0, true
	at := c.place.Add(geom.Vec3{X: cos*from.X - sin*from.Z, Y: from.Y, Z: sin*from.X + cos*from.Z})
	return c, c.setCamera(0, at)
}

// joined is the scene with a second phone a quarter turn around the player, both
// seeing the court; ok is false where the first does not.
func (s *scene) joined() (scene, bool) {
	if !s.court {
		return scene{}, false // without the court's lines neither phone knows where the other stands
	}
	c := s.copied()
	second := c.eyes[0]
	second.camera = uint8(len(c.setup.Cameras))
	c.eyes = append(c.eyes, second)
	c.setup.Cameras = append(c.setup.Cameras, c.setup.Cameras[0])
	c.setup.Cameras[len(c.setup.Cameras)-1].HasClockOffset = false
	for i := range c.eyes {
		e := &c.eyes[i]
		for p := range e.placed {
			e.placed[p] = false // two images make the space
		}
	}
	from := c.eyes[0].pose.Center().Sub(c.place)
	for _, quarter := range []float64{1, -1} {
		at := c.place.Add(geom.Vec3{X: -quarter * from.Z, Y: from.Y, Z: quarter * from.X})
		if len(c.setup.Cameras) == 2 && c.setCamera(1, at) {
			return c, true
		}
	}
	return c, false
}
