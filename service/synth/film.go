package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// faults are the noises and losses of a condition (accuracy.md).
type faults struct {
	bodyWorld, racketWorld, depth float64 // m
	pixels                        float64
	lost, outlier, swap           float64 // chances
	lostNear                      float64 // tip and throat within 50 ms of contact
	jitter                        float64 // ± s on the clip's clock
	jitterSeen                    bool    // the jitter is when the frame was taken; else only what its time says
	kept                          float64 // correlation of noise from frame to frame, share of variance
	memory                        float64 // its correlation time, s
}

func (c *Clip) faults(v View, d draw) faults {
	f := faults{lost: 0.05, outlier: 0.005, swap: 0.005, lostNear: 0.15, jitter: 0.001, jitterSeen: d.chance(0.5), pixels: 2}
	if d.chance(0.5) {
		f.kept, f.memory = d.in(0.2, 0.7), d.in(0.02, 0.25)
	}
	switch c.Condition {
	case World:
		f.bodyWorld, f.racketWorld, f.depth = 0.005, 0.008, 0.005
	case TwoViews:
		f.pixels = 1.5
	case Phone, BodyOnly, SlowMotion:
		f.bodyWorld, f.depth = 0.025, 0.045
		f.kept, f.memory = d.in(0.3, 0.8), d.in(0.03, 0.3)
	}
	if v.Clean {
		f = faults{jitterSeen: true}
	}
	return f
}

// hiss is first-order noise: a share `kept` of its variance remembers, the rest is white.
type hiss struct{ slow [body.NumPoints][3]float64 }

// next returns three unit-variance numbers for point i after dt seconds.
func (h *hiss) next(i int, dt float64, f *faults, d draw) [3]float64 {
	a := 0.0
	if f.memory > 0 {
		a = math.Exp(-dt / f.memory)
	}
	var n [3]float64
	for k := range n {
		h.slow[i][k] = a*h.slow[i][k] + math.Sqrt(1-a*a)*d.NormFloat64()
		n[k] = math.Sqrt(f.kept)*h.slow[i][k] + math.Sqrt(1-f.kept)*d.NormFloat64()
	}
	return n
}

// film takes one camera's frames (l nil: world points only).
func (c *Clip) film(cam int, l *lens, v View, d draw) {
	m := c.Motion
	f := c.faults(v, d)
	offset := 0.0 // this camera's clock ahead of the reference, s
	if cam > 0 {
		offset = d.in(-0.2, 0.2)
	}
	var img, wld hiss
	points := c.Layout.points()
	dt := 1 / c.Rate
	last := int64(math.MinInt64)
	begin := m.Start + d.Float64()*dt
	const stretch = 2.0 // s of motion asked at a time
	var part *Motion
	upTo := math.Inf(-1)
	for i := 0; ; i++ {
		t := begin + float64(i)*dt
		if t > m.End {
			break
		}
		if t > upTo {
			upTo = t + stretch
			part = m.window(t-0.01, upTo+0.01)
		}
		wrong := d.in(-1, 1) * f.jitter / c.Stretch
		p := part.At(t + seen(f, wrong))
		fr := body.Frame{Index: uint32(i), Camera: uint8(cam)}
		fr.TimeUS = max(last+1, c.Zero+int64(math.Round(((t+wrong-m.Start)*c.Stretch+offset)*1e6)))
		last = fr.TimeUS
		s := shot{clip: c, f: &f, l: l, d: d, pose: &p, near: c.nearContact(t), frame: &fr, dt: dt, img: &img, wld: &wld}
		for _, pt := range points {
			s.point(pt)
		}
		s.racketAndBall()
		if d.chance(f.swap) {
			swapSides(&fr)
		}
		c.Frames = append(c.Frames, fr)
	}
}

func seen(f faults, jitter float64) float64 {
	if f.jitterSeen {
		return jitter
	}
	return 0
}

func (c *Clip) nearContact(t float64) bool {
	for _, k := range c.Motion.Struck {
		if math.Abs(t-k.Contact) <= 0.050 {
			return true
		}
	}
	return false
}

// swapSides is the estimator's left-right mistake: every body point takes its twin's place.
func swapSides(f *body.Frame) {
	for i := range body.NumBody {
		p := body.Point(i)
		if q := p.Twin(); q > p {
			f.Image[p], f.Image[q] = f.Image[q], f.Image[p]
			f.World[p], f.World[q] = f.World[q], f.World[p]
		}
	}
}

// shot is one frame being filled.
type shot struct {
	clip     *Clip
	f        *faults
	l        *lens
	d        draw
	pose     *Pose
	near     bool
	frame    *body.Frame
	dt       float64
	img, wld *hiss
}

func (s *shot) point(p body.Point) {
	rough, score := s.mood()
	if s.d.chance(s.f.lost) {
		return
	}
	if s.l != nil {
		s.image(p, rough, score)
	}
	if s.f.bodyWorld > 0 || s.l == nil {
		s.world(p, rough, score)
	}
}

// mood is how well one point is seen: a factor on its noise, and the score that
// hints at it. The factor's mean square is 1.
func (s *shot) mood() (rough, score float64) {
	g := s.d.about(0, 0.35)
	return math.Exp(g - 0.1), max(0.15, min(0.99, 0.8-0.25*g+0.06*s.d.NormFloat64()))
}

func (s *shot) racketAndBall() {
	if s.clip.Condition == BodyOnly {
		return
	}
	for p := body.RacketTip; p <= body.Ball; p++ {
		if p == body.Ball && !s.pose.HasBall {
			continue
		}
		gone := (p == body.RacketTip || p == body.RacketThroat) && s.near && s.d.chance(s.f.lostNear)
		if gone || s.d.chance(s.f.lost) {
			continue
		}
		rough, score := s.mood()
		if s.l == nil {
			s.world(p, rough, score)
			continue
		}
		s.image(p, rough, score)
	}
}

func (s *shot) image(p body.Point, rough, score float64) {
	x, y, ok := s.l.project(s.pose.P[p])
	if !ok {
		return
	}
	n := s.img.next(int(p), s.dt, s.f, s.d)
	x, y = x+s.f.pixels*rough*n[0], y+s.f.pixels*rough*n[1]
	if s.d.chance(s.f.outlier) {
		far := level(s.d.in(0, 6.28)).Scale(s.d.in(30, 160))
		x, y = x+far.X, y+far.Z
	}
	s.frame.Image[p] = body.Seen2{X: float32(x), Y: float32(y), Score: float32(score)}
}

func (s *shot) world(p body.Point, rough, score float64) {
	n := s.wld.next(int(p), s.dt, s.f, s.d)
	at := s.pose.P[p]
	across, depth := s.f.bodyWorld, s.f.depth
	if p.IsRacket() || p == body.Ball {
		across, depth = s.f.racketWorld, s.f.racketWorld
	}
	if s.l != nil {
		at = s.l.turn.Apply(at.Sub(s.pose.P[body.MidHip]))
	}
	at = at.Add(geom.Vec3{X: across * n[0], Y: across * n[1], Z: depth * n[2]}.Scale(rough))
	if s.d.chance(s.f.outlier) {
		at = at.Add(tilted(level(s.d.in(0, 6.28)), s.d.in(-1, 1)).Scale(s.d.in(0.15, 0.8)))
	}
	s.frame.World[p] = body.Seen3{X: float32(at.X), Y: float32(at.Y), Z: float32(at.Z), Score: float32(score)}
}
