package camera

import (
	"cmp"
	"errors"
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
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
}

// sightedAt is one sighting by the first camera.
type sightedAt struct {
	point body.Point
	t     float64
	at    Pixel
	speed float64 // across the epipolar line, pixels a second
}

func newClock(poses [2]Pose, frames [2][]body.Frame) *clock {
	dt, _ := FrameInterval(frames[1])
	c := &clock{poses: poses, later: paths(frames[1]), gap: clockGap * dt}
	all := sightings0(&poses[0], poses[1].Center(), paths(frames[0]))
	slices.SortFunc(all, func(a, b sightedAt) int { return cmp.Compare(b.speed, a.speed) })
	c.moves = min(len(all), clockMoving)
	c.pairs = append(c.pairs, all[:c.moves]...)
	// Slow points tell nothing of the offset, but of the poses.
	rest := all[c.moves:]
	for stride, i := max(1, len(rest)/clockStill), 0; i < len(rest); i += stride {
		c.pairs = append(c.pairs, rest[i])
	}
	return c
}

// sightings0 lists the first camera's sightings. What a motion tells of the
// offset is its speed across the epipolar line, which joins the point and the
// place at which the other camera would be seen.
func sightings0(p *Pose, other geom.Vec3, seen *[body.NumPoints]path) []sightedAt {
	e := p.InCamera(other)
	var out []sightedAt
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
			out = append(out, sightedAt{body.Point(k), s.t[i], at, across})
		}
	}
	return out
}

// errorFor is the epipolar error of two pixels whose noise has variances 1 and gain.
func (c *clock) errorFor(a, b Pixel, gain float64, e *geom.Mat3, p *[2]Pose) float64 {
	f0, f1 := p[0].Focal, p[1].Focal
	return epipolarError(e, p[0].CameraRay(a.X, a.Y), p[1].CameraRay(b.X, b.Y), 1/(f0*f0), gain/(f1*f1))
}

// search returns the best of the trial offsets, by the mean of a loss that grows
// like a logarithm.
func (c *clock) search(reach float64) (float64, bool) {
	best, at := math.Inf(1), 0.0
	e := essential(&c.poses[0], &c.poses[1])
	for i := -int(reach / clockGrid); i <= int(reach/clockGrid); i++ {
		offset, sum, n := float64(i)*clockGrid, 0.0, 0
		for k := range c.moves {
			s := &c.pairs[k]
			x, y, gain, ok := c.later[s.point].between(s.t-offset, c.gap)
			if !ok {
				continue
			}
			r := c.errorFor(s.at, Pixel{x, y}, gain, &e, &c.poses) / clockScale
			sum += math.Log1p(r * r)
			n++
		}
		if n >= clockLeastPairs/2 && sum/float64(n) < best {
			best, at = sum/float64(n), offset
		}
	}
	return at, !math.IsInf(best, 1)
}

// clockState is what the refinement moves.
type clockState struct {
	offset float64
	poses  [2]Pose
}

const clockParams = 1 + 2*numParams

// changed returns the state moved by d: offset, first pose, second pose.
func (s clockState) changed(d []float64) clockState {
	s.offset += d[0]
	s.poses[0] = s.poses[0].Moved(Params(d[1 : 1+numParams]))
	s.poses[1] = s.poses[1].Moved(Params(d[1+numParams:]))
	return s
}

// clockSteps are the steps of the numerical derivatives, in the order of
// clockParams; the offset has its own.
var clockSteps = func() (h [clockParams]float64) {
	for v := range 2 {
		copy(h[1+v*numParams:], []float64{1e-5, 1e-5, 1e-5, 1e-4, 1e-4, 1e-4, 1e-5, 1e-5})
	}
	return h
}()

// met is where the second camera has a pair's point, by interpolation.
type met struct {
	at   Pixel
	gain float64
	ok   bool
}

// meet interpolates the second view for every pair.
func (c *clock) meet(offset float64) []met {
	out := make([]met, len(c.pairs))
	for k := range out {
		m := &out[k]
		m.at.X, m.at.Y, m.gain, m.ok = c.later[c.pairs[k].point].between(c.pairs[k].t-offset, c.gap)
	}
	return out
}

// rayPair holds the directions in which both cameras see a pair, camera axes.
type rayPair struct{ a, b geom.Vec3 }

// rays takes the distortion and focal lengths out of the pairs' pixels.
func (c *clock) rays(m []met, p *[2]Pose) []rayPair {
	out := make([]rayPair, len(m))
	for k := range out {
		if m[k].ok {
			out[k] = rayPair{p[0].CameraRay(c.pairs[k].at.X, c.pairs[k].at.Y), p[1].CameraRay(m[k].at.X, m[k].at.Y)}
		}
	}
	return out
}

// errorsOf returns every pair's residual, in units of a pixel of noise in each view;
// NaN where the second view has no point near that time.
func (c *clock) errorsOf(m []met, rays []rayPair, p *[2]Pose) []float64 {
	e := essential(&p[0], &p[1])
	v0, v1 := 1/sq(p[0].Focal), 1/sq(p[1].Focal)
	out := make([]float64, len(m))
	for k := range out {
		out[k] = math.NaN()
		if m[k].ok {
			out[k] = epipolarError(&e, rays[k].a, rays[k].b, v0, m[k].gain*v1)
		}
	}
	return out
}

// scaleOf is the robust sd of the residuals, at least a third of a pixel.
func scaleOf(r []float64) float64 {
	known := slices.DeleteFunc(slices.Clone(r), math.IsNaN)
	return max(1.0/3, signal.MAD(known))
}

// refine fits offset and poses by Gauss–Newton with Cauchy weights; the poses'
// covariance is the prior.
func (c *clock) refine(offset float64) (ClockFit, error) {
	s := clockState{offset, c.poses}
	info := mat.NewSymDense(clockParams, nil)
	for v := range 2 {
		addInfo(info, 1+v*numParams, c.poses[v].Cov)
	}
	var last clockRound
	for range 8 {
		r, ok := c.round(s, info)
		if !ok {
			return ClockFit{}, ErrNoCommonMotion
		}
		last = r
		// A step beyond two trial offsets is not to be trusted to first order.
		if m := math.Abs(r.step[0]) / (2 * clockGrid); m > 1 {
			for i := range r.step {
				r.step[i] /= m
			}
		}
		s = s.changed(r.step)
		if math.Abs(r.step[0]) < 1e-5 {
			break
		}
	}
	return c.report(s, last), nil
}

// addInfo adds the inverse covariance of a pose; a pose without covariance is held.
func addInfo(info *mat.SymDense, at int, cov Cov) {
	inv, ok := invert(cov)
	for i := range numParams {
		for j := i; j < numParams; j++ {
			v := inv[i][j]
			if !ok {
				v = 0
				if i == j {
					v = 1e14
				}
			}
			info.SetSym(at+i, at+j, v)
		}
	}
}

// clockRound is one linearisation.
type clockRound struct {
	step  []float64
	inv   *mat.SymDense // of the weighted normal matrix
	jac   *mat.Dense    // weighted by √w, unknown pairs zero
	res   []float64     // weighted by √w
	prior *mat.SymDense
	scale float64
	known int
}

// offsetSlopes fills the column of the offset: minus the motion of the second
// view's point along the gradient of the residual. The motion is taken over
// slopeSpan and not from the interpolation, whose noise goes with the
// residual's and would make false minima half a frame apart.
func (c *clock) offsetSlopes(s clockState, m []met, jac *mat.Dense) {
	e := essential(&s.poses[0], &s.poses[1])
	for k := range m {
		if !m[k].ok {
			continue
		}
		p, x, y := &c.pairs[k], m[k].at.X, m[k].at.Y
		vx, vy := c.later[p.point].slope(p.t - s.offset)
		// Half a pixel either way along the motion.
		h := 0.5 / max(1, math.Hypot(vx, vy))
		hi := c.errorFor(p.at, Pixel{x + h*vx, y + h*vy}, 1, &e, &s.poses)
		lo := c.errorFor(p.at, Pixel{x - h*vx, y - h*vy}, 1, &e, &s.poses)
		jac.Set(k, 0, -(hi-lo)/(2*h))
	}
}

func (c *clock) round(s clockState, prior *mat.SymDense) (clockRound, bool) {
	m := c.meet(s.offset)
	rays := c.rays(m, &s.poses)
	r := c.errorsOf(m, rays, &s.poses)
	out := clockRound{scale: scaleOf(r), prior: prior}
	out.jac = mat.NewDense(len(r), clockParams, nil)
	c.offsetSlopes(s, m, out.jac)
	for p := 1; p < clockParams; p++ {
		var d [clockParams]float64
		d[p] = clockSteps[p]
		hi := s.changed(d[:]).poses
		d[p] = -d[p]
		lo := s.changed(d[:]).poses
		upRays, downRays := rays, rays
		if (p-1)%numParams >= 6 { // focal length and distortion move the rays
			upRays, downRays = c.rays(m, &hi), c.rays(m, &lo)
		}
		up, down := c.errorsOf(m, upRays, &hi), c.errorsOf(m, downRays, &lo)
		for k := range r {
			if v := (up[k] - down[k]) / (2 * clockSteps[p]); !math.IsNaN(v) {
				out.jac.Set(k, p, v)
			}
		}
	}
	for k, v := range r {
		if math.IsNaN(v) {
			r[k] = 0
			out.jac.SetRow(k, make([]float64, clockParams))
			continue
		}
		out.known++
		// Cauchy loss at 2.385 sd: 95 % efficient on normal noise (Holland &
		// Welsch 1977, Commun Stat A 6:813).
		q := v / (2.385 * out.scale)
		w := 1 / math.Sqrt(1+q*q) / out.scale
		r[k] *= w
		row := out.jac.RawRowView(k)
		for p := range row {
			row[p] *= w
		}
	}
	out.res = r
	return out, out.known >= clockLeastPairs && out.solve(c, s)
}

// solve finds the step from the weighted rows and the prior about the first poses.
func (r *clockRound) solve(c *clock, s clockState) bool {
	a := mat.NewSymDense(clockParams, nil)
	a.SymOuterK(1, r.jac.T())
	a.AddSym(a, r.prior)
	g := mat.NewVecDense(clockParams, nil)
	g.MulVec(r.jac.T(), mat.NewVecDense(len(r.res), r.res))
	away := mat.NewVecDense(clockParams, nil)
	for v := range 2 {
		d := c.poses[v].to(&s.poses[v])
		for i := range d {
			away.SetVec(1+v*numParams+i, d[i])
		}
	}
	var pull mat.VecDense
	pull.MulVec(r.prior, away)
	g.AddVec(g, &pull)
	g.ScaleVec(-1, g)
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return false
	}
	step := mat.NewVecDense(clockParams, nil)
	r.inv = mat.NewSymDense(clockParams, nil)
	if ch.SolveVecTo(step, g) != nil || ch.InverseTo(r.inv) != nil {
		return false
	}
	r.step = step.RawVector().Data
	return !math.IsNaN(r.step[0])
}

func (c *clock) report(s clockState, r clockRound) ClockFit {
	fit := ClockFit{Offset: s.offset, SD: c.offsetSD(r), Points: r.known, RMS: r.scale, Poses: s.poses}
	for v := range 2 {
		for i := range numParams {
			for j := range numParams {
				fit.Poses[v].Cov[i][j] = r.inv.At(1+v*numParams+i, 1+v*numParams+j)
			}
		}
	}
	return fit
}

// clockFloor is the least sd of an offset, seconds: capture times jitter by 1 ms
// and a fast point's path between frames is not quite a cubic. Set by the spread
// of made offsets (TestClockOffset).
const clockFloor = 4e-4

// clusterSpan is the time within which the errors of one point are taken as dependent.
const clusterSpan = 0.3

// offsetSD is the sandwich estimate: residuals summed by cluster with their
// influence on the offset, and the part that the poses' prior leaves.
func (c *clock) offsetSD(r clockRound) float64 {
	type cluster struct {
		p body.Point
		n int
	}
	sums := map[cluster]float64{}
	gain := r.inv.RawSymmetric().Data[:clockParams] // row 0
	for k := range r.res {
		influence := 0.0
		for p, v := range r.jac.RawRowView(k) {
			influence += gain[p] * v
		}
		sums[cluster{c.pairs[k].point, int(c.pairs[k].t / clusterSpan)}] += influence * r.res[k]
	}
	// In a fixed order, so that the same frames give the same last bit.
	squares := slices.Sorted(maps.Values(sums))
	v, fourth := 0.0, 0.0
	for _, s := range squares {
		v += s * s
		fourth += s * s * s * s
	}
	// Few clusters rule: their number, as it counts, is Kish's (Σs²)²/Σs⁴.
	if n := v * v / fourth; n > 1.5 {
		v *= n / (n - 1)
	} else {
		v *= 3
	}
	v += clockFloor * clockFloor
	row := mat.NewVecDense(clockParams, slices.Clone(gain))
	v += mat.Inner(row, r.prior, row)
	return math.Sqrt(v)
}
