package camera

import (
	"maps"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

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
		r, ok := c.round(s, info, &last)
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
		if math.Abs(r.step[0]) < clockFloor/20 {
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
	rows   []clockRow
	normal *mat.SymDense // of the weighted rows
	pull   *mat.VecDense // of the weighted residuals
	step   []float64
	inv    *mat.SymDense // of the normal matrix with the prior
	prior  *mat.SymDense
	scale  float64
}

// clockRow is a pair's residual, in units of a pixel of noise in each view, and how it
// changes with the parameters.
type clockRow struct {
	pair int
	res  float64
	w    float64 // weight over the square of the scale
	by   [clockParams]float64
}

// round linearises every pair that the second view has near its time.
func (c *clock) round(s clockState, prior *mat.SymDense, last *clockRound) (clockRound, bool) {
	out := clockRound{rows: last.rows[:0], prior: prior}
	if out.rows == nil {
		out.rows = make([]clockRow, 0, len(c.pairs))
	}
	if c.speeds == nil || math.Abs(s.offset-c.speedsAt) > clockGrid {
		c.takeSpeeds(s.offset)
	}
	b := newBaseline(&s.poses)
	for k := range c.pairs {
		p := &c.pairs[k]
		x, y, gain, j, ok := c.later[p.point].near(p.j, p.t-s.offset, c.gap)
		p.j = j
		if ok {
			out.rows = append(out.rows, clockRow{pair: k})
			b.row(&out.rows[len(out.rows)-1], p.at, Pixel{x, y}, gain, c.speeds[k])
		}
	}
	if len(out.rows) < clockLeastPairs {
		return out, false
	}
	out.scale = scaleOf(out.rows)
	out.sum()
	return out, out.solve(c, s)
}

// takeSpeeds takes the second view's speeds at the pairs' times. They are taken over
// slopeSpan and not from the interpolation, whose noise goes with the residual's and would
// make false minima half a frame apart.
func (c *clock) takeSpeeds(offset float64) {
	if c.speeds == nil {
		c.speeds = make([]Pixel, len(c.pairs))
	}
	c.speedsAt = offset
	for k := range c.pairs {
		p := &c.pairs[k]
		c.speeds[k].X, c.speeds[k].Y = c.later[p.point].slope(p.t - offset)
	}
}

// baseline is two poses made ready for the epipolar error of pairs and its derivatives.
type baseline struct {
	poses  *[2]Pose
	back   [2]geom.Mat3 // camera axes → world axes
	across geom.Vec3    // from the second camera to the first, world axes, metres
	vars   [2]float64   // of a pixel of noise in either camera's directions
}

func newBaseline(p *[2]Pose) baseline {
	return baseline{p, [2]geom.Mat3{p[0].R.T(), p[1].R.T()}, p[0].Center().Sub(p[1].Center()),
		[2]float64{1 / sq(p[0].Focal), 1 / sq(p[1].Focal)}}
}

// row writes the residual of a pair of pixels, the second with a variance of gain and a
// speed, and its derivatives. With world directions d0, d1 and the baseline b the error is
// b·(d0 × d1) over its sd √v (see epipolarError),
//
//	v = v₀·|g₀|² + v₁·gain·|g₁|², g₀ = R₀·(d1 × b), g₁ = R₁·(b × d0), of each x and y alone.
//
// The sd changes with the poses too: else a shorter baseline would make every error less.
func (b *baseline) row(r *clockRow, at0, at1 Pixel, gain float64, speed Pixel) {
	p0, p1 := &b.poses[0], &b.poses[1]
	c0, c1 := p0.CameraRay(at0.X, at0.Y), p1.CameraRay(at1.X, at1.Y)
	d0, d1 := b.back[0].Apply(c0), b.back[1].Apply(c1)
	m := d0.Cross(d1) // derivative by the baseline
	w0, w1 := d1.Cross(b.across), b.across.Cross(d0)
	g0, g1 := p0.R.Apply(w0), p1.R.Apply(w1) // derivatives by the directions, in camera axes
	v0 := b.vars[0] * (g0.X*g0.X + g0.Y*g0.Y)
	v1 := b.vars[1] * gain * (g1.X*g1.X + g1.Y*g1.Y)
	v := v0 + v1
	if !(v > 0) {
		return
	}
	k := 1 / math.Sqrt(v)
	r.res = k * b.across.Dot(m)
	// Half of v's derivatives by g₀ and g₁, over v and times the residual.
	u0 := geom.Vec3{X: g0.X, Y: g0.Y}.Scale(r.res * b.vars[0] / v)
	u1 := geom.Vec3{X: g1.X, Y: g1.Y}.Scale(r.res * b.vars[1] * gain / v)
	h0, h1 := b.back[0].Apply(u0), b.back[1].Apply(u1)
	by0 := p0.R.Apply(w0.Scale(k).Sub(h1.Cross(b.across)))
	by1 := p1.R.Apply(w1.Scale(k).Sub(b.across.Cross(h0)))
	byB := m.Scale(k).Sub(h0.Cross(d1)).Sub(d0.Cross(h1))
	r.by[0] = -along1(p1, c1, by1, speed)
	by := r.by[1 : 1+numParams]
	b.poseBy(by, p0, c0, by0, p0.R.Apply(byB).Scale(-1))
	addSpread(by, g0.Cross(u0), r.res*v0/v)
	by = r.by[1+numParams:]
	b.poseBy(by, p1, c1, by1, p1.R.Apply(byB))
	addSpread(by, g1.Cross(u1), r.res*v1/v)
}

// addSpread adds what a pose does to the sd beside moving directions and baseline: its
// turn turns what of g counts, its focal length makes a pixel a smaller angle.
func addSpread(by []float64, turn geom.Vec3, focal float64) {
	by[0] -= turn.X
	by[1] -= turn.Y
	by[2] -= turn.Z
	by[6] += focal
}

// poseBy writes the derivatives by a pose: g is the derivative by the direction c, q
// that by the pose's T, both in camera axes.
func (b *baseline) poseBy(by []float64, p *Pose, c, g, q geom.Vec3) {
	// R ← exp([ω]×)·R turns the direction by −ω × c, and −Rᵀ·T likewise.
	turn := g.Cross(c).Add(q.Cross(p.T))
	r2 := c.X*c.X + c.Y*c.Y
	radial := (g.X*c.X + g.Y*c.Y) * p.stretch(r2)
	copy(by, []float64{turn.X, turn.Y, turn.Z, q.X, q.Y, q.Z, -radial * (1 + p.K1*r2), -radial * r2})
}

// stretch is how much the radius r of a direction changes with the radius
// r·(1 + K1·r²) at which it is seen; 0 at the fold of a negative K1, where the direction
// rests (see undistort).
func (p *Pose) stretch(r2 float64) float64 {
	d := 1 + 3*p.K1*r2
	if d < 1e-6 {
		return 0
	}
	return 1 / d
}

// along1 is the derivative g by a direction c, along a speed in pixels a second: what is
// seen at radius r·(1 + K1·r²) moves less in the direction's radius r.
func along1(p *Pose, c, g geom.Vec3, speed Pixel) float64 {
	r2 := c.X*c.X + c.Y*c.Y
	s := 1 / (1 + p.K1*r2)
	flat := s * (g.X*speed.X + g.Y*speed.Y)
	if r2 > 0 {
		outward := (c.X*speed.X + c.Y*speed.Y) / r2
		flat += (p.stretch(r2) - s) * outward * (g.X*c.X + g.Y*c.Y)
	}
	return flat / p.Focal
}

// scaleOf is the robust sd of the residuals, at least a third of a pixel.
func scaleOf(rows []clockRow) float64 {
	r := make([]float64, len(rows))
	for i := range rows {
		r[i] = rows[i].res
	}
	return max(1.0/3, signal.MAD(r))
}

// sum weighs the rows and sums them up.
func (r *clockRound) sum() {
	var a [clockParams * clockParams]float64
	var g [clockParams]float64
	for k := range r.rows {
		row := &r.rows[k]
		// Cauchy loss at 2.385 sd: 95 % efficient on normal noise (Holland &
		// Welsch 1977, Commun Stat A 6:813).
		q := row.res / (2.385 * r.scale)
		row.w = 1 / (1 + q*q) / sq(r.scale)
		for i, v := range row.by {
			v *= row.w
			g[i] += v * row.res
			to := a[i*clockParams : i*clockParams+i+1]
			for j, u := range row.by[:i+1] {
				to[j] += v * u
			}
		}
	}
	r.pull = mat.NewVecDense(clockParams, g[:])
	r.normal = mat.NewSymDense(clockParams, nil)
	for i := range clockParams {
		for j := range i + 1 {
			r.normal.SetSym(i, j, a[i*clockParams+j])
		}
	}
}

// solve finds the step from the weighted rows and the prior about the first poses.
func (r *clockRound) solve(c *clock, s clockState) bool {
	var a mat.SymDense
	a.AddSym(r.normal, r.prior)
	g := r.pull
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
	if !ch.Factorize(&a) {
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
	fit := ClockFit{Offset: s.offset, SD: c.offsetSD(r), Points: len(r.rows), RMS: r.scale, Poses: s.poses}
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
	for k := range r.rows {
		row, influence := &r.rows[k], 0.0
		for p, v := range row.by {
			influence += gain[p] * v
		}
		pair := &c.pairs[row.pair]
		sums[cluster{pair.point, int(pair.t / clusterSpan)}] += influence * row.w * row.res
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
