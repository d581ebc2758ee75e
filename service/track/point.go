package track

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/geom"
)

// path is the Gaussian posterior over one point's places at the nodes of a grid.
type path struct {
	g    *grid
	mean []geom.Vec3 // at the nodes
	fac  *band       // Cholesky factor of the information
	wide bool        // fac covers x, y, z together (3 unknowns a node), else one axis for all three
}

// smoothPoint solves a point's path. Sights that are all places need no start
// and take the fast way; others are linearised about the start, which is the
// path to set out from. The weights of the sights are updated in passes.
func smoothPoint(g *grid, s []sight, r rough, passes int, start []geom.Vec3) (*path, bool) {
	p := &path{g: g, fac: &band{}, wide: !allPlaces(s)}
	p.mean = make([]geom.Vec3, len(g.t))
	if p.wide {
		if start == nil {
			return nil, false
		}
		copy(p.mean, start)
	}
	x := make([]float64, 3*len(g.t))
	for pass := 0; ; pass++ {
		ok := false
		if p.wide {
			ok = p.solveWide(s, r, x)
		} else {
			ok = p.solveEven(s, r, x)
		}
		if !ok || pass >= passes {
			return p, ok
		}
		for i := range s {
			s[i].reweigh(p.at(s[i].t))
		}
	}
}

func allPlaces(s []sight) bool {
	for i := range s {
		if s[i].kind != place {
			return false
		}
	}
	return true
}

// solveEven solves places: one information matrix serves all three axes.
func (p *path) solveEven(s []sight, r rough, x []float64) bool {
	n := len(p.g.t)
	p.fac.reset(n, 3)
	p.g.smoothness(p.fac, 1, 0, r)
	clear(x)
	var idx [4]int
	for i := range s {
		first, w := p.g.stencil(s[i].t)
		weight := s[i].w / (s[i].sd * s[i].sd)
		for j := range 4 {
			idx[j] = first + j
			f := weight * w[j]
			x[first+j] += f * s[i].p.X
			x[n+first+j] += f * s[i].p.Y
			x[2*n+first+j] += f * s[i].p.Z
		}
		p.fac.row(idx[:], w[:], weight)
	}
	anchorLoose(p.fac)
	if !p.fac.factor() {
		return false
	}
	for a := range 3 {
		p.fac.solve(x[a*n : (a+1)*n])
	}
	for i := range n {
		p.mean[i] = geom.Vec3{X: x[i], Y: x[n+i], Z: x[2*n+i]}
	}
	return true
}

// solveWide makes one Gauss–Newton step from the present path, all axes together.
func (p *path) solveWide(s []sight, r rough, x []float64) bool {
	n := len(p.g.t)
	p.fac.reset(3*n, 11)
	for k := range 3 {
		p.g.smoothness(p.fac, 3, k, r)
	}
	clear(x)
	var idx [12]int
	var c [12]float64
	var room [3]line
	for i := range s {
		first, w := p.g.stencil(s[i].t)
		for _, l := range s[i].lines(combine(p.mean[first:first+4], w), room[:0]) {
			m := 0
			for j := range 4 {
				for k, v := range [3]float64{l.c.X, l.c.Y, l.c.Z} {
					if v != 0 {
						idx[m], c[m] = 3*(first+j)+k, w[j]*v
						x[idx[m]] += l.y * c[m] / l.v
						m++
					}
				}
			}
			p.fac.row(idx[:m], c[:m], 1/l.v)
		}
	}
	anchorLoose(p.fac)
	if !p.fac.factor() {
		return false
	}
	p.fac.solve(x)
	for i := range n {
		p.mean[i] = geom.Vec3{X: x[3*i], Y: x[3*i+1], Z: x[3*i+2]}
	}
	return true
}

// looseSD keeps the matrix positive definite where the data leave a stretch
// open: a prior of 100 m about the origin, which no court motion feels.
const looseSD = 100.0

func anchorLoose(b *band) {
	for i := range b.n {
		b.add(i, i, 1/(looseSD*looseSD))
	}
}

// at returns the mean place at t.
func (p *path) at(t float64) geom.Vec3 {
	first, w := p.g.stencil(t)
	return combine(p.mean[first:first+4], w)
}

func combine(v []geom.Vec3, w [4]float64) geom.Vec3 {
	return geom.Vec3{
		X: w[0]*v[0].X + w[1]*v[1].X + w[2]*v[2].X + w[3]*v[3].X,
		Y: w[0]*v[0].Y + w[1]*v[1].Y + w[2]*v[2].Y + w[3]*v[3].Y,
		Z: w[0]*v[0].Z + w[1]*v[1].Z + w[2]*v[2].Z + w[3]*v[3].Z,
	}
}

// draw writes one draw from the posterior over the nodes into out.
func (p *path) draw(rng *rand.Rand, out []geom.Vec3, scratch []float64) {
	n := len(p.g.t)
	z := scratch[:3*n]
	normal(rng, z)
	if p.wide {
		p.fac.backward(z)
		for i := range n {
			out[i] = p.mean[i].Add(geom.Vec3{X: z[3*i], Y: z[3*i+1], Z: z[3*i+2]})
		}
		return
	}
	for a := range 3 {
		p.fac.backward(z[a*n : (a+1)*n])
	}
	for i := range n {
		out[i] = p.mean[i].Add(geom.Vec3{X: z[i], Y: z[n+i], Z: z[2*n+i]})
	}
}

func normal(rng *rand.Rand, z []float64) {
	for i := range z {
		z[i] = rng.NormFloat64()
	}
}

// evidence returns the log marginal likelihood of the sights under Student t
// noise, up to a constant that depends only on the count and spacing of the
// nodes: Laplace's approximation at the reweighted solution (MacKay 2003,
// Information Theory, §27; exact when every weight is 1).
func evidence(g *grid, s []sight, r rough, start []geom.Vec3) float64 {
	p, ok := smoothPoint(g, s, r, 2, start)
	if !ok {
		return math.Inf(-1)
	}
	loss, prior, weights := 0.0, 0.0, 0.0
	for i := range s {
		d := float64(s[i].dim())
		loss += (studentDF + d) / 2 * math.Log1p(s[i].chi2(p.at(s[i].t))/studentDF)
		loss += d * math.Log(s[i].sd)
	}
	for i := 0; i+3 < len(g.t); i++ {
		w, weight := g.jerkRow(i, r)
		j := combine(p.mean[i:i+4], w)
		prior += weight * j.Dot(j)
		weights += 3 * math.Log(weight)
	}
	axes := 3.0
	if p.wide {
		axes = 1
	}
	return 0.5*(weights-axes*p.fac.logDet()) - loss - 0.5*prior
}
