package camera

import (
	"cmp"
	"errors"
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// ErrNoCommonMotion says that two views share too little motion to compare their clocks.
var ErrNoCommonMotion = errors.New("camera: the views share too little motion to find their clocks' offset")

// ClockFit is the offset between two cameras' clocks.
type ClockFit struct {
	Offset float64 // seconds, to add to the second camera's times; the first keeps the clock
	SD     float64 // seconds
	Points int     // pairs of sightings used
	RMS    float64 // robust size of the epipolar error, pixels; 0 without poses
	// Poses are the two poses after they were fitted to the motion together with
	// the offset, the court marks' covariance standing as prior. The covariance is
	// each pose's own; what ties the two is left out.
	Poses [2]Pose
}

const (
	clockGrid = 0.004 // seconds between trial offsets: a quarter of a frame at 60 Hz
	// Bounds on the work: sightings of one point looked at, pairs that move fastest
	// and others that are used.
	clockSamples    = 3000
	clockMoving     = 600
	clockStill      = 600
	clockLeastPairs = 40
	// clockScale is the size of the epipolar error, pixels, from which a pair counts
	// less while offsets are tried: some pixels of bias come from marks that are off by one.
	clockScale = 4.0
	// clockCoarse is how many trial offsets the coarse search takes as one, and
	// clockValleys how many of its minima are looked into.
	clockCoarse  = 4
	clockValleys = 3
	// Gaps up to this many frame intervals are bridged.
	clockGap = 2.5
)

// ClockOffset finds the offset between the clocks of two cameras with known poses,
// in [−reach, reach] seconds: the offset at which each point, interpolated in the
// second view, lies on the epipolar line of the first. All points count; the fast
// ones (wrists, racket, ball) decide. Frames are those of each camera, times rising.
//
// The sd takes residuals of one point within 0.3 s as dependent (sandwich
// estimate over such clusters: Liang & Zeger 1986, Biometrika 73:13).
func ClockOffset(poses [2]Pose, frames [2][]body.Frame, reach float64) (ClockFit, error) {
	c := newClock(poses, frames)
	if len(c.pairs) < clockLeastPairs {
		return ClockFit{}, ErrNoCommonMotion
	}
	start, ok := c.search(reach)
	if !ok {
		return ClockFit{}, ErrNoCommonMotion
	}
	return c.refine(start)
}

// clock compares two views: fixed, the pairs and the second view's paths.
type clock struct {
	poses [2]Pose
	later *[body.NumPoints]path // of the second camera
	gap   float64
	pairs []sightedAt // those that tell most of the offset first
	moves int         // the first so many serve for the search

	speeds   []Pixel // of the second view at the pairs' times, pixels a second
	speedsAt float64 // with this offset
}

// sightedAt is one sighting by the first camera.
type sightedAt struct {
	point body.Point
	t     float64
	at    Pixel
	speed float64 // across the epipolar line, pixels a second
	j     int     // the second camera's sample that was last looked up
}

func newClock(poses [2]Pose, frames [2][]body.Frame) *clock {
	dt, _ := FrameInterval(frames[1])
	c := &clock{poses: poses, later: paths(frames[1]), gap: clockGap * dt}
	all := sightings0(&poses[0], poses[1].Center(), paths(frames[0]))
	order := make([]bySpeed, len(all))
	for i := range all {
		order[i] = bySpeed{-all[i].speed, int32(i)}
	}
	slices.SortFunc(order, bySpeed.compare)
	c.moves = min(len(all), clockMoving)
	c.pairs = make([]sightedAt, 0, clockMoving+2*clockStill)
	for _, o := range order[:c.moves] {
		c.pairs = append(c.pairs, all[o.i])
	}
	// Slow points tell nothing of the offset, but of the poses.
	rest := order[c.moves:]
	for stride, i := max(1, len(rest)/clockStill), 0; i < len(rest); i += stride {
		c.pairs = append(c.pairs, all[rest[i].i])
	}
	return c
}

// bySpeed orders sightings, the fastest first.
type bySpeed struct {
	slowness float64
	i        int32
}

func (a bySpeed) compare(b bySpeed) int {
	switch {
	case a.slowness < b.slowness:
		return -1
	case a.slowness > b.slowness:
		return 1
	}
	return int(a.i - b.i)
}

// sightings0 lists the first camera's sightings. What a motion tells of the
// offset is its speed across the epipolar line, which joins the point and the
// place at which the other camera would be seen.
func sightings0(p *Pose, other geom.Vec3, seen *[body.NumPoints]path) []sightedAt {
	e := p.InCamera(other)
	n := 0
	for k := range seen {
		n += len(seen[k].t)
	}
	out := make([]sightedAt, 0, n)
	for k := range seen {
		s := &seen[k]
		for i, stride := 0, 1+len(s.t)/clockSamples; i < len(s.t); i += stride {
			at := Pixel{s.x[i], s.y[i]}
			vx, vy := s.slope(s.t[i])
			n := p.CameraRay(at.X, at.Y).Cross(e)
			across := 0.0
			if l := math.Hypot(n.X, n.Y); l > 0 {
				across = math.Abs(n.X*vx+n.Y*vy) / l
			}
			out = append(out, sightedAt{point: body.Point(k), t: s.t[i], at: at, speed: across})
		}
	}
	return out
}

// search returns the best of the trial offsets, by the mean of a loss that grows
// like a logarithm: trial offsets clockCoarse times as far apart first, with as many
// times the scale and half of the pairs, then all about the best of those.
func (c *clock) search(reach float64) (float64, bool) {
	q := c.chase()
	n := int(reach / clockGrid)
	type trial struct {
		loss float64
		i    int
	}
	var coarse []trial
	for i := -n + n%clockCoarse; i <= n; i += clockCoarse {
		coarse = append(coarse, trial{q.loss(float64(i)*clockGrid, clockCoarse*clockScale, 2), i})
	}
	var valleys []trial
	for k, v := range coarse {
		if (k == 0 || v.loss <= coarse[k-1].loss) && (k == len(coarse)-1 || v.loss < coarse[k+1].loss) {
			valleys = append(valleys, v)
		}
	}
	slices.SortFunc(valleys, func(a, b trial) int { return cmp.Compare(a.loss, b.loss) })
	best, at := math.Inf(1), 0.0
	for _, v := range valleys[:min(len(valleys), clockValleys)] {
		for i := max(-n, v.i-clockCoarse); i <= min(n, v.i+clockCoarse); i++ {
			offset := float64(i) * clockGrid
			if loss := q.loss(offset, clockScale, 1); loss < best {
				best, at = loss, offset
			}
		}
	}
	return at, !math.IsInf(best, 1)
}

// chase is the moving pairs made ready for trial offsets.
type chase struct {
	pairs []chased
	e     geom.Mat3
	vars  [2]float64 // of a pixel of noise in either camera's directions
	gap   float64
}

// chased is a sighting of the first camera and the second's path of the point.
type chased struct {
	t     float64
	line  geom.Vec3 // E·c0: on which the second camera must see it
	later *path     // directions x/z, y/z
	j     int       // the sample after the last that was asked for
}

func (c *clock) chase() *chase {
	p := &c.poses
	q := &chase{e: essential(&p[0], &p[1]), vars: [2]float64{1 / sq(p[0].Focal), 1 / sq(p[1].Focal)}, gap: c.gap}
	var later [body.NumPoints]*path
	for _, s := range c.pairs[:c.moves] {
		if later[s.point] == nil {
			later[s.point] = c.later[s.point].directions(&p[1])
		}
		q.pairs = append(q.pairs, chased{t: s.t, line: q.e.Apply(p[0].CameraRay(s.at.X, s.at.Y)), later: later[s.point]})
	}
	return q
}

// loss is the mean loss over every stride-th pair at an offset; +Inf with too few.
func (q *chase) loss(offset, scale float64, stride int) float64 {
	e, gain, k := &q.e, 1/sq(scale), 0
	logs, product := 0.0, 1.0 // one logarithm of a product costs less than many
	for i := 0; i < len(q.pairs); i += stride {
		s := &q.pairs[i]
		x, y, more, j, ok := s.later.near(s.j, s.t-offset, q.gap)
		s.j = j
		if !ok {
			continue
		}
		l := &s.line
		l0x, l0y := e[0]*x+e[3]*y+e[6], e[1]*x+e[4]*y+e[7]
		d := l.X*x + l.Y*y + l.Z
		v := q.vars[0]*(l0x*l0x+l0y*l0y) + q.vars[1]*more*(l.X*l.X+l.Y*l.Y)
		product *= 1 + gain*d*d/v
		if product > 1e200 {
			logs, product = logs+math.Log(product), 1
		}
		k++
	}
	if k*stride < clockLeastPairs/2 {
		return math.Inf(1)
	}
	return (logs + math.Log(product)) / float64(k)
}
