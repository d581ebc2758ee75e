package track

import "math"

// axisShaker draws errors of a path along one axis, without going through its sights.
//
// With H the stencils of the sights, W their weights and P the prior's information, the
// solve is A = P + HᵀWH = L·D·Lᵀ. White errors of covariance R and the prior's jerks pull
// with covariance C = P + HᵀWRWH, which is banded: with its factor M, M·z is their pull, z
// normal. The lasting error v, a course at the nodes that is read between them as the path
// itself is, pulls with HᵀWH·v = (A − P)·v, so that the draw is v + A⁻¹(M·z − P·v). P is
// the sum of the products of its stencils with themselves.
type axisShaker struct {
	pulls   []float64    // rows of M, five numbers a node, the diagonal last
	prior   [][4]float64 // stencils of the prior, times the root of their weights
	factor  []float64    // rows of L, four numbers a node, and 1/D
	lasting bool
	keep    []float64 // the lasting part at a node is keep times that before, plus …
	fresh   []float64 // … fresh times a normal number
}

// newAxisShaker takes the covariance C, which it factors, the prior's stencils and the
// factor of the solve, as band.factor4 leaves it; false where C is not positive definite.
func newAxisShaker(c *band, prior [][4]float64, factor []float64) (axisShaker, bool) {
	if !c.factor() {
		return axisShaker{}, false
	}
	n := c.n
	a, m := c.a, make([]float64, 5*n)
	for i := range n {
		m[5*i+4] = 1 / math.Sqrt(a[5*i+4])
		for k := 1; k <= min(i, 4); k++ {
			m[5*i+4-k] = a[5*i+4-k] * m[5*(i-k)+4]
		}
	}
	return axisShaker{pulls: m, prior: prior, factor: factor}, true
}

// axesRoom is room for a draw on three axes.
type axesRoom struct {
	z    []float64 // normal numbers, four zeros before them
	v, x [3][]float64
}

func newAxesRoom(n int) *axesRoom {
	all := make([]float64, 7*n+4)
	r := &axesRoom{z: all[:n+4]}
	all = all[n+4:]
	for k := range r.x {
		r.v[k], r.x[k] = all[:n:n], all[n:2*n:2*n]
		all = all[2*n:]
	}
	return r
}

// last draws what lasts on an axis into r.v.
func (r *axesRoom) last(s *axisShaker, k int, rng *dice) {
	v := r.v[k]
	z, keep, fresh := r.z[4:4+len(v)], s.keep[:len(v)], s.fresh[:len(v)]
	rng.fill(z)
	e := 0.0
	for i := range v {
		e = keep[i]*e + fresh[i]*z[i]
		v[i] = e
	}
}

// draw writes the errors of a draw into r.x; r.v holds what lasts of them on the axes on
// which anything does.
func (r *axesRoom) draw(axes [3]*axisShaker, rng *dice) {
	for k, s := range axes {
		rng.fill(r.z[4:])
		s.pull(r.z, r.x[k])
		if s.lasting {
			s.holdBack(r.v[k], r.x[k])
		}
	}
	solveAxes(axes[0].factor, axes[1].factor, axes[2].factor, r.x[0], r.x[1], r.x[2])
	for k, s := range axes {
		if s.lasting {
			x := r.x[k]
			for i, e := range r.v[k][:len(x)] {
				x[i] += e
			}
		}
	}
}

// pull writes M·z to x; four zeros stand before z.
func (s *axisShaker) pull(z, x []float64) {
	m := s.pulls[:5*len(x)]
	for i := range x {
		r, y := (*[5]float64)(m[5*i:]), (*[5]float64)(z[i:])
		x[i] = r[4]*y[4] + r[3]*y[3] + r[2]*y[2] + r[1]*y[1] + r[0]*y[0]
	}
}

// holdBack takes P·v from x.
func (s *axisShaker) holdBack(v, x []float64) {
	for i := range s.prior {
		w, u, y := &s.prior[i], (*[4]float64)(v[i:]), (*[4]float64)(x[i:])
		d := w[0]*u[0] + w[1]*u[1] + (w[2]*u[2] + w[3]*u[3])
		y[0] -= w[0] * d
		y[1] -= w[1] * d
		y[2] -= w[2] * d
		y[3] -= w[3] * d
	}
}

// solveAxes solves with three factors for three axes, whose sums do not wait for each other.
func solveAxes(a, b, c, x, y, z []float64) {
	n := len(x)
	a, b, c, y, z = a[:5*n], b[:5*n], c[:5*n], y[:n], z[:n]
	var x1, x2, x3, x4, y1, y2, y3, y4, z1, z2, z3, z4 float64
	for i := range x {
		f, g, h := (*[5]float64)(a[5*i:]), (*[5]float64)(b[5*i:]), (*[5]float64)(c[5*i:])
		u := x[i] - f[0]*x4 - f[1]*x3 - f[2]*x2 - f[3]*x1
		v := y[i] - g[0]*y4 - g[1]*y3 - g[2]*y2 - g[3]*y1
		w := z[i] - h[0]*z4 - h[1]*z3 - h[2]*z2 - h[3]*z1
		x[i], y[i], z[i] = u, v, w
		x4, x3, x2, x1 = x3, x2, x1, u
		y4, y3, y2, y1 = y3, y2, y1, v
		z4, z3, z2, z1 = z3, z2, z1, w
	}
	// What rows below have taken from the next four above them, not yet subtracted.
	x1, x2, x3, x4, y1, y2, y3, y4, z1, z2, z3, z4 = 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0
	for i := n - 1; i >= 0; i-- {
		f, g, h := (*[5]float64)(a[5*i:]), (*[5]float64)(b[5*i:]), (*[5]float64)(c[5*i:])
		u := x[i]*f[4] - x1
		v := y[i]*g[4] - y1
		w := z[i]*h[4] - z1
		x[i], y[i], z[i] = u, v, w
		x1, x2, x3, x4 = x2+u*f[3], x3+u*f[2], x4+u*f[1], u*f[0]
		y1, y2, y3, y4 = y2+v*g[3], y3+v*g[2], y4+v*g[1], v*g[0]
		z1, z2, z3, z4 = z2+w*h[3], z3+w*h[2], z4+w*h[1], w*h[0]
	}
}

// priorStencils are a path's, times the root of their weights and of the share given for
// each; nil: 1.
func (p *path) priorStencils(share func(i int) float64) [][4]float64 {
	out := make([][4]float64, len(p.jerks))
	for i, weight := range p.jerks {
		if share != nil {
			weight *= share(i)
		}
		f := math.Sqrt(weight)
		for k, c := range p.g.jerk(i) {
			out[i][k] = f * c
		}
	}
	return out
}
