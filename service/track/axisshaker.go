package track

import (
	"slices"

	"example.com/courtkin/service/geom"
)

// axisShaker draws errors of a path along one axis, without going through its sights.
//
// With H the stencils of the sights, W their weights and P the prior's information, the
// solve is A = P + HᵀWH = L·D·Lᵀ. White errors of covariance R and the prior's jerks pull
// with covariance C = P + HᵀWRWH, which is banded: with its factor M, M·z is their pull, z
// normal. The lasting error v is a course at the nodes. Each sight pulls at each node with
// the error that lasts there, so that the pull is g∘v, g the sum of the nodes' shares in
// the sights' information: over a stencil what lasts hardly changes, and a shift of all
// sights shifts the path by just that, for P·1 = 0. The draw is A⁻¹(M·z + g∘v).
type axisShaker struct {
	pulls  strip         // M
	factor strip         // L and 1/D
	lasts  []lastingPull // a node
}

// lastingPull is how the lasting part goes on at a node, and how it pulls there.
type lastingPull struct {
	keep  float64 // it is keep times that at the node before, plus …
	fresh float64 // … fresh times a normal number; 0 and 1 where it is given
	load  float64 // information of the sights, shared out to their nodes
}

// newAxisShaker takes the covariance C, which it factors, and the factor of the solve; false
// where C is not positive definite.
func newAxisShaker(c, factor strip) (axisShaker, bool) {
	if !c.factor() {
		return axisShaker{}, false
	}
	c.root()
	return axisShaker{pulls: c, factor: factor}, true
}

// axesRoom is room for a draw on three axes.
type axesRoom [3][]float64

// lay makes room for n nodes.
func (r *axesRoom) lay(n int) {
	for k := range r {
		r[k] = slices.Grow(r[k][:0], n)[:n]
	}
}

// draw writes the errors of a draw along three axes to out. given, where it is not nil, is
// what lasts on the third axis, a number a node.
func (r *axesRoom) draw(axes [3]*axisShaker, rng *dice, given []float64, out []geom.Vec3) {
	for k, s := range axes {
		if k < 2 || given == nil {
			s.half(rng, rng.run(len(out)), r[k])
		} else {
			s.half(rng, given, r[k])
		}
	}
	backAxes(axes[0].factor, axes[1].factor, axes[2].factor, r[0], r[1], r[2], out)
}

// half draws the pull of the errors and takes it half through the solve, into x:
// L⁻¹(M·z + g∘v). fresh are the numbers from which v is made.
func (s *axisShaker) half(rng *dice, fresh, x []float64) {
	n := len(x)
	m, f, last, fresh, z := s.pulls[:n], s.factor[:n], s.lasts[:n], fresh[:n], rng.run(n+4)
	var v, x1, x2, x3 float64
	for i := range x {
		// Row i of M stands on the numbers i − 3 … i, which begin at z[i+1]. Those before the first
		// row are multiplied by zeros.
		r, y, l, k := &m[i], (*[5]float64)(z[i:]), &f[i], &last[i]
		v = k.keep*v + k.fresh*fresh[i]
		u := (k.load*v + r[3]*y[4]) + (r[2]*y[3] + r[1]*y[2]) + r[0]*y[1] - l[0]*x3 - l[1]*x2 - l[2]*x1
		x[i] = u
		x3, x2, x1 = x2, x1, u
	}
}

// halves is half for three axes that err alike, into x.
func (s *axisShaker) halves(rng *dice, x []geom.Vec3) {
	n := len(x)
	m, f, last := s.pulls[:n], s.factor[:n], s.lasts[:n]
	fa, a := rng.run(n), rng.run(n+4)
	fb, b := rng.run(n), rng.run(n+4)
	fc, c := rng.run(n), rng.run(n+4)
	fa, fb, fc = fa[:n], fb[:n], fc[:n]
	var va, vb, vc float64
	var x1, x2, x3 geom.Vec3
	for i := range x {
		r, l, k := &m[i], &f[i], &last[i]
		a, b, c := (*[5]float64)(a[i:]), (*[5]float64)(b[i:]), (*[5]float64)(c[i:])
		va, vb, vc = k.keep*va+k.fresh*fa[i], k.keep*vb+k.fresh*fb[i], k.keep*vc+k.fresh*fc[i]
		u := geom.Vec3{
			X: (k.load*va + r[3]*a[4]) + (r[2]*a[3] + r[1]*a[2]) + r[0]*a[1] - l[0]*x3.X - l[1]*x2.X - l[2]*x1.X,
			Y: (k.load*vb + r[3]*b[4]) + (r[2]*b[3] + r[1]*b[2]) + r[0]*b[1] - l[0]*x3.Y - l[1]*x2.Y - l[2]*x1.Y,
			Z: (k.load*vc + r[3]*c[4]) + (r[2]*c[3] + r[1]*c[2]) + r[0]*c[1] - l[0]*x3.Z - l[1]*x2.Z - l[2]*x1.Z,
		}
		x[i] = u
		x3, x2, x1 = x2, x1, u
	}
}

// back takes three axes that err alike through the second half of their solve,
// Lᵀ·y = D⁻¹·x, in place, and adds the mean.
func (s *axisShaker) back(mean, x []geom.Vec3) {
	n := len(x)
	a, mean := s.factor[:n], mean[:n]
	var x1, x2, x3 geom.Vec3 // as in strip.back
	for i := n - 1; i >= 0; i-- {
		f, y, m := &a[i], &x[i], &mean[i]
		u, v, w := y.X*f[3]-x1.X, y.Y*f[3]-x1.Y, y.Z*f[3]-x1.Z
		*y = geom.Vec3{X: u + m.X, Y: v + m.Y, Z: w + m.Z}
		x1 = geom.Vec3{X: x2.X + u*f[2], Y: x2.Y + v*f[2], Z: x2.Z + w*f[2]}
		x2 = geom.Vec3{X: x3.X + u*f[1], Y: x3.Y + v*f[1], Z: x3.Z + w*f[1]}
		x3 = geom.Vec3{X: u * f[0], Y: v * f[0], Z: w * f[0]}
	}
}

// backAxes takes three axes through the second half of their solves and writes y to out.
// Their sums do not wait for each other.
func backAxes(a, b, c strip, x, y, z []float64, out []geom.Vec3) {
	n := len(out)
	a, b, c, x, y, z = a[:n], b[:n], c[:n], x[:n], y[:n], z[:n]
	var x1, x2, x3, y1, y2, y3, z1, z2, z3 float64 // as in strip.back
	for i := n - 1; i >= 0; i-- {
		f, g, h := &a[i], &b[i], &c[i]
		u := x[i]*f[3] - x1
		v := y[i]*g[3] - y1
		w := z[i]*h[3] - z1
		out[i] = geom.Vec3{X: u, Y: v, Z: w}
		x1, x2, x3 = x2+u*f[2], x3+u*f[1], u*f[0]
		y1, y2, y3 = y2+v*g[2], y3+v*g[1], v*g[0]
		z1, z2, z3 = z2+w*h[2], z3+w*h[1], w*h[0]
	}
}
