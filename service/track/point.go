package track

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// path is the posterior over one point's places at the nodes of a grid.
type path struct {
	g    *grid
	mean []geom.Vec3 // at the nodes
	fac  *band       // Cholesky factor of the information
	wide bool        // fac covers x, y, z together (3 unknowns a node), else one axis for all three

	sights []sight
	seen   rows // of the sights: in a wide path dim() rows each, else one row for all three axes
	prior  rows
}

// smoothPoint solves a point's path. Sights that are all places need no start
// and take the fast way; others are linearised about the start, which is the
// path to set out from. The weights of the sights are updated in passes.
func smoothPoint(g *grid, s []sight, r rough, passes int, start []geom.Vec3) (*path, bool) {
	p := &path{g: g, fac: &band{}, wide: !allPlaces(s), sights: s}
	p.mean = make([]geom.Vec3, len(g.t))
	if p.wide {
		if start == nil {
			return nil, false
		}
		copy(p.mean, start)
	}
	p.believe(r, nil)
	x := make([]float64, 3*len(g.t))
	for pass := 0; ; pass++ {
		ok := false
		if p.wide {
			ok = p.solveWide(x)
		} else {
			ok = p.solveEven(x)
		}
		if !ok || pass >= passes {
			return p, ok
		}
		for i := range s {
			s[i].reweigh(p.at(s[i].t))
		}
	}
}

// believe writes the prior.
func (p *path) believe(r rough, bursts []float64) {
	p.prior.reset()
	for k := range p.dims() {
		p.g.smoothness(&p.prior, p.dims(), k, r, bursts)
	}
	if !p.wide {
		p.g.impactRow(&p.prior, r)
	}
}

// followBursts solves the path anew with the density raised where it jerks.
func (p *path) followBursts(r rough) bool {
	x := make([]float64, 3*len(p.g.t))
	for range 2 {
		p.believe(r, p.g.bursts(p.mean, r))
		ok := false
		if p.wide {
			ok = p.solveWide(x)
		} else {
			ok = p.solveEven(x)
		}
		if !ok {
			return false
		}
	}
	return true
}

func allPlaces(s []sight) bool {
	for i := range s {
		if s[i].kind != place {
			return false
		}
	}
	return true
}

// dims is the number of unknowns at each node.
func (p *path) dims() int {
	if p.wide {
		return 3
	}
	return 1
}

// solveEven solves places: one information matrix serves all three axes.
func (p *path) solveEven(x []float64) bool {
	n := len(p.g.t)
	p.seen.reset()
	for i := range p.sights {
		s := &p.sights[i]
		first, w := p.g.stencil(s.t)
		for j := range 4 {
			p.seen.entry(first+j, w[j])
		}
		p.seen.end(0, s.w/(s.sd*s.sd))
	}
	if !p.factor() {
		return false
	}
	clear(x)
	for i := range p.sights {
		q := p.sights[i].p
		p.seen.push(x[:n], i, q.X)
		p.seen.push(x[n:2*n], i, q.Y)
		p.seen.push(x[2*n:], i, q.Z)
	}
	for a := range 3 {
		p.fac.solve(x[a*n : (a+1)*n])
	}
	for i := range n {
		p.mean[i] = geom.Vec3{X: x[i], Y: x[n+i], Z: x[2*n+i]}
	}
	return true
}

func (p *path) factor() bool {
	d := p.dims()
	p.fac.reset(d*len(p.g.t), 5*d-1)
	p.prior.inform(p.fac, nil)
	p.seen.inform(p.fac, nil)
	anchorLoose(p.fac)
	return p.fac.factor()
}

// solveWide makes one Gauss–Newton step from the present path, all axes together.
func (p *path) solveWide(x []float64) bool {
	p.seen.reset()
	var room [3]line
	for i := range p.sights {
		s := &p.sights[i]
		first, w := p.g.stencil(s.t)
		for _, l := range s.lines(combine(p.mean[first:first+4], w), room[:0]) {
			for j := range 4 {
				p.seen.entry(3*(first+j), w[j]*l.c.X)
				p.seen.entry(3*(first+j)+1, w[j]*l.c.Y)
				p.seen.entry(3*(first+j)+2, w[j]*l.c.Z)
			}
			p.seen.end(l.y, 1/l.v)
		}
	}
	if !p.factor() {
		return false
	}
	clear(x)
	for k := range p.seen.len() {
		p.seen.push(x, k, p.seen.y[k])
	}
	p.fac.solve(x)
	for i := range p.g.t {
		p.mean[i] = geom.Vec3{X: x[3*i], Y: x[3*i+1], Z: x[3*i+2]}
	}
	return true
}

// looseSD keeps the matrix positive definite where the data leave a stretch
// open: a prior of 1,000 m (or pixels) about the origin, which no motion feels.
const looseSD = 1000.0

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

// draw writes one draw from the posterior over the nodes into out: the errors
// of the sights as the noise makes them, lasting part and all, and the motion
// that the prior allows, pushed through the solve that gave the mean. For white
// noise this is the Gaussian posterior itself (Papandreou & Yuille 2010,
// "Gaussian sampling by local perturbations", NIPS); for other noise it is the
// honest spread of the same estimate.
func (p *path) draw(rng *rand.Rand, member int, out []geom.Vec3, scratch []float64) {
	n := len(p.g.t)
	z := scratch[:3*n]
	clear(z)
	if p.wide {
		p.prior.shake(z, rng)
		last := map[*camera.Pose]*[3]lasting{}
		k := 0
		for i := range p.sights {
			s := &p.sights[i]
			if last[s.eye] == nil {
				last[s.eye] = new([3]lasting)
			}
			e := last[s.eye][s.kind].next(s.t, *s.h, s.dim(), rng)
			if s.errs != nil {
				e[0] = s.errs[member%len(s.errs)]
			}
			for d := range s.dim() {
				if k < p.seen.len() {
					p.seen.push(z, k, e[d])
				}
				k++
			}
		}
		p.fac.solve(z)
		for i := range n {
			out[i] = p.mean[i].Add(geom.Vec3{X: z[3*i], Y: z[3*i+1], Z: z[3*i+2]})
		}
		return
	}
	var last lasting
	for a := range 3 {
		p.prior.shake(z[a*n:(a+1)*n], rng)
	}
	for i := range p.sights {
		e := last.next(p.sights[i].t, *p.sights[i].h, 3, rng)
		for a := range 3 {
			p.seen.push(z[a*n:(a+1)*n], i, e[a])
		}
	}
	for a := range 3 {
		p.fac.solve(z[a*n : (a+1)*n])
	}
	for i := range n {
		out[i] = p.mean[i].Add(geom.Vec3{X: z[i], Y: z[n+i], Z: z[2*n+i]})
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
	loss := 0.0
	for i := range s {
		d := float64(s[i].dim())
		loss += (studentDF + d) / 2 * math.Log1p(s[i].chi2(p.at(s[i].t))/studentDF)
		loss += d * math.Log(s[i].sd)
	}
	axes := 3.0
	if p.wide {
		axes = 1
	}
	prior, weights := p.priorCost()
	return 0.5*(axes*weights-axes*p.fac.logDet()) - loss - 0.5*prior
}

// priorCost returns the prior's weighted squares at the mean, all axes, and the
// sum of the logarithms of its weights.
func (p *path) priorCost() (cost, weights float64) {
	for k := range p.prior.len() {
		var e geom.Vec3
		for j := p.prior.start[k]; j < p.prior.start[k+1]; j++ {
			i, c := int(p.prior.idx[j]), p.prior.c[j]
			if !p.wide {
				e = e.Add(p.mean[i].Scale(c))
				continue
			}
			q := p.mean[i/3]
			e.X += c * [3]float64{q.X, q.Y, q.Z}[i%3]
		}
		cost += p.prior.w[k] * e.Dot(e)
	}
	return cost, p.prior.logWeights()
}
