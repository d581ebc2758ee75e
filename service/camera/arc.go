package camera

import (
	"math"

	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// Arc is a stretch of free flight between two breaks (release, impact, bounce), seen
// in the image by a camera with a pose, or in space. World axes have Y up.
type Arc struct {
	T []float64 // seconds on the clip's clock, rising

	World   []geom.Vec3 // metres; or, when nil:
	Image   []Pixel
	Pose    *Pose
	Noise   float64 // of a sample, pixels or metres
	Near    int     // sample at which the distance from the camera is believed to be
	Depth   float64 // metres along the optical axis,
	DepthSD float64 // with this sd. Without it an image tells no scale.
	Sure    bool    // the belief comes from a hand that is seen
	Meeting int     // from 1: with the racket, whose two sides share a number and a guessed distance; 0: none
}

// Fall is the downward acceleration of an arc on the clip's clock.
type Fall struct {
	G, SD float64 // m/s² of the clip; the true one is 9.81. SD leaves out:
	Scale float64 // relative error of the metres, which arcs at one place share
	RMS   float64 // robust size of the misfit, in units of the samples' noise
	N     int     // samples
	Sure  bool    // the distance from the camera is seen, not guessed
	Hop   bool    // of a body, not of a ball
	// Meeting is the arc's: two falls of one meeting with the racket share what put it there.
	Meeting int
}

const (
	// standardGravity: m/s², within 0.3 % anywhere on the ground (CGPM 1901).
	standardGravity = 9.80665
	// ballDrag is ½·ρ·C_D·A/m of a tennis ball, 1/m: ρ 1.2 kg/m³, C_D 0.55 (Mehta, Alam &
	// Subic 2008, Sports Technol 1:7: 0.5–0.65 for used and new balls), diameter 6.7 cm,
	// 58 g (ITF Rules, App. I). Lengths only: the same in slow motion.
	ballDrag = 0.0200
	// ballLift is the sd of the spin's lift in the same units; drives of 1500 rpm at 20 m/s
	// have a lift coefficient about 0.2, 0.007/m; topspin (downward) is the rule.
	// From memory; broad on purpose.
	// ballDragSpread is the factor by which the drag may be larger or smaller at one sd.
	ballDragSpread       = 1.2
	ballLift, ballLiftSD = -0.002, 0.004

	// mostDrag is the drag over gravity up to which a flight tells of gravity: 1.5 at 27 m/s;
	// beyond, the drag's error is gravity's size.
	mostDrag = 1.5

	arcLeast = 8  // samples
	arcMost  = 60 // samples used; longer arcs are thinned
)

// flight is the state of a ball and what acts on it, as Params:
// position 0–2, velocity 3–5 at the first sample, gravity 6, lift 7.
type flight struct {
	p, v    geom.Vec3
	g, lift float64
	drag    float64
}

// pull is the acceleration −g·ŷ − drag·|v|·v + lift·|v|²·n, n upright to v in its
// vertical plane.
func (f *flight) pull(v geom.Vec3) geom.Vec3 {
	s := v.Norm()
	a := v.Scale(-f.drag * s)
	a.Y -= f.g
	if f.lift != 0 && s > 0 {
		n := geom.Vec3{Y: 1}.Sub(v.Scale(v.Y / (s * s))).Unit()
		a = a.Add(n.Scale(f.lift * s * s))
	}
	return a
}

// advance moves the ball by h seconds (one Runge–Kutta step of the fourth order).
func (f *flight) advance(h float64) {
	v1 := f.v
	a1 := f.pull(v1)
	v2 := f.v.Add(a1.Scale(h / 2))
	a2 := f.pull(v2)
	v3 := f.v.Add(a2.Scale(h / 2))
	a3 := f.pull(v3)
	v4 := f.v.Add(a3.Scale(h))
	a4 := f.pull(v4)
	f.p = f.p.Add(v1.Add(v2.Scale(2)).Add(v3.Scale(2)).Add(v4).Scale(h / 6))
	f.v = f.v.Add(a1.Add(a2.Scale(2)).Add(a3.Scale(2)).Add(a4).Scale(h / 6))
}

// arcFit is the least-squares problem of one arc: two or three rows a sample and the
// beliefs last.
type arcFit struct {
	arc  *Arc
	drag float64
	res  []float64
	w    []float64
}

func (a *arcFit) beliefs() int { return 2 }

func (a *arcFit) rows() int {
	if a.arc.World != nil {
		return 3*len(a.arc.T) + a.beliefs()
	}
	return 2*len(a.arc.T) + a.beliefs()
}

// residuals fills out with observed minus modelled, over noise; false where the ball
// would be behind the camera.
func (a *arcFit) residuals(x Params, out []float64) bool {
	f := flight{geom.Vec3{X: x[0], Y: x[1], Z: x[2]}, geom.Vec3{X: x[3], Y: x[4], Z: x[5]}, x[6], x[7], a.drag}
	arc, k, depth := a.arc, 0, 0.0
	for i, t := range arc.T {
		if i > 0 {
			f.advance(t - arc.T[i-1])
		}
		if arc.World != nil {
			d := arc.World[i].Sub(f.p).Scale(1 / arc.Noise)
			out[k], out[k+1], out[k+2] = d.X, d.Y, d.Z
			k += 3
			continue
		}
		c := arc.Pose.InCamera(f.p)
		u, v, ok := arc.Pose.ProjectCamera(c)
		if !ok {
			return false
		}
		out[k], out[k+1] = (arc.Image[i].X-u)/arc.Noise, (arc.Image[i].Y-v)/arc.Noise
		k += 2
		if i == arc.Near {
			depth = c.Z
		}
	}
	out[k], out[k+1] = 0, (ballLift-x[7])/ballLiftSD
	if arc.World == nil {
		out[k] = (arc.Depth - depth) / arc.DepthSD
	}
	return true
}

// FitFall fits the arc's flight and returns its downward acceleration; false when the
// samples are too few or fly in no such way.
func FitFall(arc Arc) (Fall, bool) {
	arc = thinned(arc)
	n := len(arc.T)
	if n < arcLeast || !(arc.Noise > 0) || arc.World == nil && (arc.Pose == nil || !(arc.DepthSD > 0)) {
		return Fall{}, false
	}
	a := arcFit{arc: &arc, drag: ballDrag}
	x, ok := a.start()
	if !ok {
		return Fall{}, false
	}
	x, cov, ok := a.solve(x)
	if !ok {
		return Fall{}, false
	}
	if v := (geom.Vec3{X: x[3], Y: x[4], Z: x[5]}); ballDrag*v.Dot(v) > mostDrag*x[6] {
		return Fall{}, false
	}
	rms := signal.MAD(a.res[:len(a.res)-a.beliefs()])
	f := Fall{G: x[6], RMS: rms, N: n, Sure: arc.World != nil || arc.Sure, Meeting: arc.Meeting}
	v := cov[6][6]
	if arc.World == nil {
		// The depth is believed, not seen: its part is scale, and comes out of SD.
		f.Scale = arc.DepthSD / arc.Depth
		v = max(0, v-sq(f.Scale*f.G))
	}
	f.SD = math.Hypot(math.Sqrt(v)*max(0.7, rms), a.dragError(x))
	return f, rms < 3 && !math.IsNaN(f.G+f.SD)
}

// dragError is how much the fall changes with the drag's error.
func (a *arcFit) dragError(x Params) float64 {
	g := [2]float64{}
	for i, d := range []float64{ballDrag * ballDragSpread, ballDrag / ballDragSpread} {
		b := arcFit{arc: a.arc, drag: d}
		y, _, ok := b.solve(x)
		if !ok {
			return math.Inf(1)
		}
		g[i] = y[6]
	}
	return math.Abs(g[0]-g[1]) / 2
}

func thinned(a Arc) Arc {
	stride := 1 + (len(a.T)-1)/arcMost
	if stride <= 1 {
		return a
	}
	b := a
	b.T, b.World, b.Image = nil, nil, nil
	for i := 0; i < len(a.T); i += stride {
		b.T = append(b.T, a.T[i])
		if a.World != nil {
			b.World = append(b.World, a.World[i])
		} else {
			b.Image = append(b.Image, a.Image[i])
		}
	}
	b.Near = min(a.Near/stride, len(b.T)-1)
	return b
}

// start fits parabolas to the points, taking an image's points at the believed depth.
func (a *arcFit) start() (x Params, ok bool) {
	arc := a.arc
	pts := arc.World
	if pts == nil {
		for _, p := range arc.Image {
			c := arc.Pose.CameraRay(p.X, p.Y).Scale(arc.Depth)
			pts = append(pts, arc.Pose.R.T().Apply(c.Sub(arc.Pose.T)))
		}
	}
	var cx, cy, cz [3]float64
	axis := func(get func(geom.Vec3) float64) ([3]float64, bool) {
		v := make([]float64, len(pts))
		for i, p := range pts {
			v[i] = get(p)
		}
		return parabola(arc.T, v)
	}
	cx, ok1 := axis(func(p geom.Vec3) float64 { return p.X })
	cy, ok2 := axis(func(p geom.Vec3) float64 { return p.Y })
	cz, ok3 := axis(func(p geom.Vec3) float64 { return p.Z })
	return Params{cx[0], cy[0], cz[0], cx[1], cy[1], cz[1], -2 * cy[2], ballLift}, ok1 && ok2 && ok3
}

// parabola fits c0 + c1·s + c2·s², s = t − t[0], robustly (three rounds of Cauchy weights).
func parabola(t, v []float64) (c [3]float64, ok bool) {
	w := make([]float64, len(t))
	r := make([]float64, len(t))
	span := t[len(t)-1] - t[0]
	for i := range w {
		w[i] = 1
	}
	for range 4 {
		var m geom.Mat3
		var g geom.Vec3
		for i := range t {
			s := (t[i] - t[0]) / span
			row := geom.Vec3{X: 1, Y: s, Z: s * s}
			addOuter(&m, row, row, w[i])
			g = g.Add(row.Scale(w[i] * v[i]))
		}
		inv, fine := invert3(m)
		if !fine {
			return c, false
		}
		b := inv.Apply(g)
		c = [3]float64{b.X, b.Y / span, b.Z / (span * span)}
		for i := range t {
			s := t[i] - t[0]
			r[i] = v[i] - c[0] - c[1]*s - c[2]*s*s
		}
		k := 2.385 * max(signal.MAD(r), 1e-9)
		for i := range r {
			w[i] = 1 / (1 + r[i]*r[i]/(k*k))
		}
	}
	return c, true
}

// solve runs damped Gauss–Newton with Cauchy weights on the samples.
func (a *arcFit) solve(x Params) (Params, Cov, bool) {
	n := a.rows()
	a.res, a.w = make([]float64, n), make([]float64, n)
	hi, lo := make([]float64, n), make([]float64, n)
	jac := make([]Params, n)
	if !a.residuals(x, a.res) {
		return x, Cov{}, false
	}
	best, lambda := a.loss(a.res), 1e-3
	var info Cov
	for range 40 {
		a.weigh()
		if !a.jacobian(x, jac, hi, lo) {
			return x, Cov{}, false
		}
		var g Params
		info = Cov{}
		for i := range jac {
			addRow(&info, &g, &jac[i], a.res[i], a.w[i])
		}
		l, ok := choleskyScaled(info, lambda)
		if !ok {
			return x, Cov{}, false
		}
		step := l.solve(g)
		next := x
		for i := range next {
			next[i] += step[i]
		}
		if a.residuals(next, hi) && a.loss(hi) < best {
			gain := best - a.loss(hi)
			copy(a.res, hi)
			x, best, lambda = next, best-gain, max(1e-9, lambda/8)
			if gain < 1e-7*(1+best) {
				break
			}
			continue
		}
		if lambda *= 8; lambda > 1e8 {
			break
		}
	}
	cov, ok := invert(info)
	return x, cov, ok
}

// loss is the sum of Cauchy losses of the samples and squares of the beliefs.
func (a *arcFit) loss(r []float64) float64 {
	sum, last := 0.0, len(r)-a.beliefs()
	for i, v := range r {
		if i < last {
			sum += cauchy * cauchy * math.Log1p(v*v/(cauchy*cauchy))
		} else {
			sum += v * v
		}
	}
	return sum
}

// cauchy is the residual, in sds, at which a Cauchy weight is one half; samples of a
// ball that are off by more than some pixels are wrong.
const cauchy = 3.0

func (a *arcFit) weigh() {
	last := len(a.res) - a.beliefs()
	for i, v := range a.res {
		a.w[i] = 1
		if i < last {
			a.w[i] = 1 / (1 + v*v/(cauchy*cauchy))
		}
	}
}

// jacobian of the model: minus that of the residuals.
func (a *arcFit) jacobian(x Params, jac []Params, hi, lo []float64) bool {
	for p := range x {
		h := 1e-4 * max(0.1, math.Abs(x[p]))
		if p == 7 {
			h = 1e-5
		}
		up, down := x, x
		up[p] += h
		down[p] -= h
		if !a.residuals(up, hi) || !a.residuals(down, lo) {
			return false
		}
		for i := range jac {
			jac[i][p] = -(hi[i] - lo[i]) / (2 * h)
		}
	}
	return true
}
