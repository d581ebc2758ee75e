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

// last draws the lasting part into v.
func (s *axisShaker) last(rng *dice, v []float64) {
	keep, fresh := s.keep[:len(v)], s.fresh[:len(v)]
	e := 0.0
	for i := range v {
		e = keep[i]*e + fresh[i]*rng.normal()
		v[i] = e
	}
}

// draw writes a draw's errors into x; v holds what lasts of them, where anything does.
func (s *axisShaker) draw(rng *dice, v, x []float64) {
	n := len(x)
	var z1, z2, z3, z4, y1, y2, y3, y4, d1, d2, d3 float64
	var w1, w2, w3 *[4]float64 = &noStencil, &noStencil, &noStencil
	m, l := s.pulls[:5*n], s.factor[:5*n]
	for i := range x {
		r := (*[5]float64)(m[5*i:])
		z := rng.normal()
		e := r[4]*z + r[3]*z1 + r[2]*z2 + r[1]*z3 + r[0]*z4
		z4, z3, z2, z1 = z3, z2, z1, z
		if s.lasting {
			w, d := &noStencil, 0.0
			if i < len(s.prior) {
				w = &s.prior[i]
				u := (*[4]float64)(v[i:])
				d = w[0]*u[0] + w[1]*u[1] + w[2]*u[2] + w[3]*u[3]
			}
			e -= w[0]*d + w1[1]*d1 + w2[2]*d2 + w3[3]*d3
			w3, w2, w1 = w2, w1, w
			d3, d2, d1 = d2, d1, d
		}
		f := (*[5]float64)(l[5*i:])
		y := e - f[0]*y4 - f[1]*y3 - f[2]*y2 - f[3]*y1
		x[i] = y
		y4, y3, y2, y1 = y3, y2, y1, y
	}
	// What rows below have taken from the next four above them, not yet subtracted.
	var s1, s2, s3, s4 float64
	for i := n - 1; i >= 0; i-- {
		f := (*[5]float64)(l[5*i:])
		y := x[i]*f[4] - s1
		x[i] = y
		s1, s2, s3, s4 = s2+y*f[3], s3+y*f[2], s4+y*f[1], y*f[0]
	}
	if s.lasting {
		for i, e := range v[:n] {
			x[i] += e
		}
	}
}

// noStencil stands beyond the ends of the prior.
var noStencil [4]float64

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
