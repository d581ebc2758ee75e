package synth

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/swing"
)

// Condition is a capture condition of accuracy.md.
type Condition byte

// Conditions.
const (
	World      Condition = 'W'
	TwoViews   Condition = 'T'
	Phone      Condition = 'P'
	ImageOnly  Condition = 'I'
	BodyOnly   Condition = 'B'
	SlowMotion Condition = 'S'
)

// Conditions lists them all in the order of accuracy.md.
var Conditions = []Condition{World, TwoViews, Phone, ImageOnly, BodyOnly, SlowMotion}

// Layout says which body points an estimator delivers.
type Layout uint8

// Layouts. The numbers are those of the wire.
const (
	COCO17      Layout = 1
	BlazePose33 Layout = 2
	Body25      Layout = 3
)

var layoutPoints = map[Layout][]body.Point{
	COCO17: {body.Nose, body.LeftEar, body.RightEar, body.LeftShoulder, body.RightShoulder, body.LeftElbow, body.RightElbow,
		body.LeftWrist, body.RightWrist, body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle},
	BlazePose33: {body.LeftToe, body.RightToe, body.LeftHeel, body.RightHeel, body.LeftHand, body.RightHand},
	Body25:      {body.LeftToe, body.RightToe, body.LeftHeel, body.RightHeel, body.Neck, body.MidHip},
}

// points lists what the layout holds: COCO's points, and its own.
func (l Layout) points() []body.Point {
	if l == COCO17 {
		return layoutPoints[COCO17]
	}
	return append(slices.Clone(layoutPoints[COCO17]), layoutPoints[l]...)
}

// Clip is a motion as one capture condition shows it, with its answers.
type Clip struct {
	Condition  Condition
	Layout     Layout
	Setup      swing.Setup
	Frames     []body.Frame
	Truth      []TrueSwing // times in real seconds from Zero
	Stretch    float64     // clip seconds per real second: 1 but in slow motion
	Zero       int64       // frames' clock at real time zero, µs
	CourtKnown bool        // X is the court's; else what the definitions put in its place
	Motion     *Motion
	Rate       float64 // sensor's frames a real second
}

// Real turns a time on the frames' clock (camera 0) into real seconds, as Truth counts them.
func (c *Clip) Real(us float64) float64 { return (us - float64(c.Zero)) / 1e6 / c.Stretch }

// View forces what Shoot would draw; zero values leave it drawn.
type View struct {
	Layout   Layout
	From     camera.Viewpoint
	Distance float64 // m
	Marks    *bool   // condition I: court marks (else stature)
	Clean    bool    // no noise, no loss: what a perfect estimator would give
}

// Shoot shows a motion under a capture condition. The same arguments give the same
// clip; another seed gives another camera and fresh noise.
func Shoot(m *Motion, c Condition, v View, seed uint64) Clip {
	clip, _ := shootWith(m, c, v, seed)
	return clip
}

// shootWith is Shoot; it tells the lenses, too.
func shootWith(m *Motion, c Condition, v View, seed uint64) (Clip, []*lens) {
	d := newDraw(seed, streamScene)
	clip := Clip{Condition: c, Layout: v.Layout, Stretch: 1, Motion: m, Zero: 1_000_000 * int64(d.IntN(50)), Rate: 60}
	if clip.Layout == 0 {
		clip.Layout = []Layout{COCO17, COCO17, COCO17, BlazePose33, Body25}[d.IntN(5)]
	}
	switch c {
	case World:
		clip.Rate, clip.CourtKnown = 120, true
	case TwoViews:
		clip.CourtKnown = true
	case SlowMotion:
		s := [][2]float64{{120, 4}, {240, 8}, {240, 4}}[d.IntN(3)]
		clip.Rate, clip.Stretch = s[0], s[1]
	}
	clip.Setup = setup(m, d)
	lenses := clip.cameras(v, d)
	for i, l := range lenses {
		clip.film(i, l, v, newDraw(seed, streamNoise+uint64(100*i)))
	}
	slices.SortStableFunc(clip.Frames, func(a, b body.Frame) int { return int(a.TimeUS - b.TimeUS) })
	for i := range m.Struck {
		clip.Truth = append(clip.Truth, m.Truth(i, clip.CourtKnown).shift(-m.Start))
	}
	return clip, lenses
}

func (s TrueSwing) shift(by float64) TrueSwing {
	s.Contact += by
	for i := range s.Events {
		s.Events[i] += by
	}
	return s
}

// setup is what the client says of the player: hand and stature in half the clips.
func setup(m *Motion, d draw) swing.Setup {
	s := swing.Setup{RacketLength: m.Build.Racket}
	if d.chance(0.6) {
		s.Player.Hand = body.RightHanded
		if m.LeftHanded {
			s.Player.Hand = body.LeftHanded
		}
	}
	if d.chance(0.5) {
		s.Player.Stature = math.Round(m.Build.Stature*100) / 100
	}
	return s
}

// cameras places what the condition needs and tells the setup of it.
func (c *Clip) cameras(v View, d draw) []*lens {
	switch c.Condition {
	case World:
		c.Setup.Axes = camera.AxesCourt
		return []*lens{nil}
	case TwoViews:
		a := c.place(v, d.in(0, 2*math.Pi), true, d)
		az := math.Atan2(a.at.Z-c.focus().Z, a.at.X-c.focus().X)
		turn := d.in(60, 120) * deg
		if d.chance(0.5) {
			turn = -turn
		}
		b := c.place(v, az+turn, true, d)
		c.tell(a, true, d)
		c.tell(b, true, d)
		return []*lens{a, b}
	}
	marks := c.Condition == ImageOnly && d.chance(0.5)
	if v.Marks != nil {
		marks = *v.Marks && c.Condition == ImageOnly
	}
	l := c.place(v, -1, marks, d)
	if marks && len(l.marks(d, 0)) < 5 {
		marks = false
	}
	if c.Condition == ImageOnly {
		c.CourtKnown = marks
		if !marks {
			c.Setup.Player.Stature = math.Round(c.Motion.Build.Stature*100) / 100
		}
	} else {
		c.Setup.Axes = camera.AxesCamera
	}
	c.tell(l, marks, d)
	return []*lens{l}
}

// tell adds a camera to the setup.
func (c *Clip) tell(l *lens, marks bool, d draw) {
	cam := camera.Camera{Width: uint32(l.width), Height: uint32(l.height)}
	if d.chance(0.5) {
		cam.Focal = math.Round(l.focal * d.about(1, 0.01))
	}
	if c.Condition != SlowMotion && d.chance(0.5) {
		cam.CaptureRate = c.Rate
	}
	if c.Condition != SlowMotion && d.chance(0.3) {
		cam.SlowMotion = 1
	}
	if marks {
		cam.Marks = l.marks(d, 1)
	}
	if l.view != camera.ViewUnknown && d.chance(0.7) {
		cam.View = l.view
	}
	c.Setup.Cameras = append(c.Setup.Cameras, cam)
}

// focus is the middle of where the player hits, at half height.
func (c *Clip) focus() geom.Vec3 {
	var sum geom.Vec3
	n := float64(len(c.Motion.Struck))
	for _, k := range c.Motion.Struck {
		p := c.Motion.At(k.Contact)
		sum = sum.Add(p.P[body.MidHip].Scale(1 / n))
	}
	if n == 0 {
		sum = c.Motion.At((c.Motion.Start + c.Motion.End) / 2).P[body.MidHip]
	}
	sum.Y = 0.62 * c.Motion.Build.Stature
	for _, k := range c.Motion.Struck {
		if k.Stroke.OverheadMotion() {
			sum.Y = 0.85 * c.Motion.Build.Stature
		}
	}
	return sum
}

// place stands a phone at one of the four viewpoints ± 25° (azimuth < 0), or at a
// given azimuth; with marks it looks for a place that sees at least five.
func (c *Clip) place(v View, azimuth float64, marks bool, d draw) *lens {
	target := c.focus()
	var best *lens
	most := -1
	for range 40 {
		l := &lens{width: 1920, height: 1080, focal: d.in(1350, 1750)}
		az := azimuth + d.in(-8, 8)*deg
		if azimuth < 0 {
			l.view = v.From
			if l.view == camera.ViewUnknown {
				l.view = camera.Viewpoint(1 + d.IntN(4))
			}
			az = []float64{0, 180, 0, 90, -90}[l.view]*deg + d.in(-25, 25)*deg
		}
		far := v.Distance
		if far == 0 {
			far = d.in(4, 12)
		}
		far = max(far, target.Y*l.focal/480)
		foot := target.Add(level(az).Scale(far)).Flat()
		l.at = foot.Add(upward.Scale(d.in(1, 3)))
		look := target.Add(geom.Vec3{X: d.in(-0.2, 0.2), Y: d.in(-0.1, 0.1), Z: d.in(-0.2, 0.2)})
		l.turn = aimed(l.at, look, d.about(0, 1)*deg)
		n := len(l.marks(d, 0))
		if !marks || n >= 6 {
			return l
		}
		if n > most {
			best, most = l, n
		}
	}
	return best
}
