package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// pairs are the left points whose twins a pose estimator may swap with them.
var pairs = []body.Point{
	body.LeftEar, body.LeftShoulder, body.LeftElbow, body.LeftWrist,
	body.LeftHip, body.LeftKnee, body.LeftAnkle, body.LeftToe, body.LeftHeel, body.LeftHand,
}

// lastSeen is what the label check remembers of one point.
type lastSeen struct {
	ok     bool
	t      float64
	p, vel geom.Vec3
}

func (l *lastSeen) predict(t float64) geom.Vec3 {
	// Past 0.1 s a velocity says little more of where a point went.
	return l.p.Add(l.vel.Scale(math.Min(t-l.t, 0.1)))
}

func (l *lastSeen) take(t float64, p geom.Vec3) {
	if l.ok && t > l.t {
		v := p.Sub(l.p).Scale(1 / (t - l.t))
		l.vel = l.vel.Lerp(v, 0.5)
	}
	l.ok, l.t, l.p = true, t, p
}

// unswap puts left and right labels right, in place: bodies do not teleport,
// so both labellings of each frame are held against what the frames before
// predict, and the nearer one is kept. What most frames say is right: were it the
// first frame that is swapped, all that follow would be changed to its labelling.
// Frames of several cameras may be mixed; each is judged against its own.
func unswap(frames []body.Frame) {
	cameras := map[uint8]*labels{}
	most := 0 // how far the balance of any goes
	for i := range frames {
		f := &frames[i]
		c := cameras[f.Camera]
		if c == nil {
			c = &labels{}
			cameras[f.Camera] = c
		}
		t := float64(f.TimeUS) / 1e6
		if c.swapped(f, t) {
			swapSides(f)
			c.balance += 2
		}
		c.balance--
		most = max(most, c.balance)
		c.remember(f, t)
	}
	if most == 0 {
		return
	}
	for i := range frames {
		if cameras[frames[i].Camera].balance > 0 {
			swapSides(&frames[i])
		}
	}
}

// labels is what the label check remembers of one camera.
type labels struct {
	world, image [body.NumPoints]lastSeen
	balance      int // frames changed less frames left
}

// vote is a pair of twins as seen and as predicted, and how far off is no further off, all in
// metres or pixels.
type vote struct {
	l, r, pl, pr geom.Vec3
	limit        float64
}

func (v *vote) off(a, b geom.Vec3) float64 { return math.Min(a.Sub(b).Norm(), v.limit) }

// swapped reports whether the other labelling fits the prediction clearly
// better. Both are robust sums, so one wild point decides nothing.
func (c *labels) swapped(f *body.Frame, t float64) bool {
	straight, apart, pixels := 0.0, 0.0, 0.0
	var votes [10]vote
	cast := votes[:0]
	add := func(l, r geom.Vec3, a, b *lastSeen, unit float64) {
		v := vote{l, r, a.predict(t), b.predict(t), 0.3 * unit} // a swap of shoulders moves each by about this
		straight += v.off(l, v.pl) + v.off(r, v.pr)
		apart += v.off(v.pl, v.pr)
		cast = append(cast, v)
	}
	for _, l := range pairs {
		r := l.Twin()
		if a, b := &c.world[l], &c.world[r]; a.ok && b.ok && f.World[l].Score > 0 && f.World[r].Score > 0 {
			add(place3(f.World[l]), place3(f.World[r]), a, b, 1)
		} else if a, b := &c.image[l], &c.image[r]; a.ok && b.ok && f.Image[l].Score > 0 && f.Image[r].Score > 0 {
			if pixels == 0 {
				pixels = pixelsPerMetre(f)
			}
			add(place2(f.Image[l]), place2(f.Image[r]), a, b, pixels)
		}
	}
	if !(straight > 0.5*apart) {
		return false // whatever the other labelling has: most frames end here
	}
	crossed := 0.0
	for i := range cast {
		v := &cast[i]
		crossed += v.off(v.l, v.pr) + v.off(v.r, v.pl)
	}
	return crossed < 0.6*straight && straight-crossed > 0.5*apart
}

// pixelsPerMetre is a coarse image scale from the trunk's length, taken as
// 0.5 m; only used to weigh jumps.
func pixelsPerMetre(f *body.Frame) float64 {
	s, h := f.Image[body.LeftShoulder], f.Image[body.LeftHip]
	if s.Score > 0 && h.Score > 0 {
		return math.Max(20, math.Hypot(float64(s.X-h.X), float64(s.Y-h.Y))/0.5)
	}
	return 150
}

func place3(s body.Seen3) geom.Vec3 {
	return geom.Vec3{X: float64(s.X), Y: float64(s.Y), Z: float64(s.Z)}
}

func place2(s body.Seen2) geom.Vec3 { return geom.Vec3{X: float64(s.X), Y: float64(s.Y)} }

func swapSides(f *body.Frame) {
	for _, l := range pairs {
		r := l.Twin()
		f.World[l], f.World[r] = f.World[r], f.World[l]
		f.Image[l], f.Image[r] = f.Image[r], f.Image[l]
	}
}

func (c *labels) remember(f *body.Frame, t float64) {
	for _, l := range pairs {
		for _, p := range [2]body.Point{l, l.Twin()} {
			if f.World[p].Score > 0 {
				c.world[p].take(t, place3(f.World[p]))
			}
			if f.Image[p].Score > 0 {
				c.image[p].take(t, place2(f.Image[p]))
			}
		}
	}
}
