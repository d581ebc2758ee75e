package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// draw writes one draw from the posterior over the nodes into out: the errors
// of the sights as the noise makes them, lasting part and all, and the motion
// that the prior allows, pushed through the solve that gave the mean. For white
// noise this is the Gaussian posterior itself (Papandreou & Yuille 2010,
// "Gaussian sampling by local perturbations", NIPS); for other noise it is the
// honest spread of the same estimate. The path must not be solved anew between draws.
func (p *path) draw(rng *dice, out []geom.Vec3) {
	switch {
	case p.apart != nil:
		if p.shakeApart == nil {
			p.shakeApart = p.newShakerApart()
		}
		p.shakeApart.draw(p, rng, out)
		return
	case p.wide:
		p.drawWide(rng, out)
		return
	}
	if p.shake == nil {
		p.shake = p.newShaker()
	}
	p.shake.draw(p, rng, out)
}

// shaker draws errors of a path of places without going through its sights.
//
// With H the stencils of the sights, W their weights and P the prior's
// information, the solve is A = P + HᵀWH. White errors of covariance R and the prior's jerks
// pull with covariance C = P + HᵀWRWH, which is banded: with its factor M, M·z is
// their pull. The lasting error v, a first-order course drawn at the nodes and
// read between them as the path itself is, pulls with HᵀWH·v = (A − P)·v, so that
// the draw is v + A⁻¹(M·z − P·v).
type shaker struct {
	fac         band      // L·D·Lᵀ of C
	root        []float64 // √D
	keep, fresh []float64 // the lasting part at a node is keep times that before, plus fresh times a normal number
	v           []geom.Vec3
}

func (p *path) newShaker() *shaker {
	n := len(p.g.t)
	s := &shaker{root: make([]float64, n)}
	b := &s.fac
	b.reset(n, 4)
	p.informPrior(b)
	for i := range p.sights {
		x, k := &p.sights[i], &p.knots[i]
		info := x.w * x.h.white / (x.sd * x.sd)
		b.addKnot(k.first, &k.w, info*info)
	}
	anchorLoose(b)
	if !b.factor() {
		b.reset(n, 4) // cannot be: C is positive definite by its anchor
		b.diagonal(1)
	}
	for i := range s.root {
		s.root[i] = 1 / math.Sqrt(b.a[5*i+4])
	}
	if h := p.sights[0].h; h.slow > 0 {
		s.keep, s.fresh, s.v = make([]float64, n), make([]float64, n), make([]geom.Vec3, n)
		for i := range n {
			s.fresh[i] = h.slow
			if i > 0 && h.memory > 0 {
				s.keep[i] = math.Exp((p.g.t[i-1] - p.g.t[i]) / h.memory)
				s.fresh[i] *= math.Sqrt(1 - s.keep[i]*s.keep[i])
			}
		}
	}
	return s
}

func (s *shaker) draw(p *path, rng *dice, out []geom.Vec3) {
	var z1, z2, z3, z4 geom.Vec3
	a := s.fac.a
	for i, root := range s.root {
		z := rng.vector(root)
		r := (*[5]float64)(a[5*i:])
		out[i] = geom.Vec3{
			X: z.X + r[0]*z4.X + r[1]*z3.X + r[2]*z2.X + r[3]*z1.X,
			Y: z.Y + r[0]*z4.Y + r[1]*z3.Y + r[2]*z2.Y + r[3]*z1.Y,
			Z: z.Z + r[0]*z4.Z + r[1]*z3.Z + r[2]*z2.Z + r[3]*z1.Z,
		}
		z4, z3, z2, z1 = z3, z2, z1, z
	}
	for i := range s.keep {
		e := rng.vector(s.fresh[i])
		if i > 0 {
			e = e.Add(s.v[i-1].Scale(s.keep[i]))
		}
		s.v[i] = e
	}
	if s.v != nil {
		for i, weight := range p.jerks {
			w := p.g.jerk(i)
			e := combine4((*[4]geom.Vec3)(s.v[i:]), &w)
			pull4((*[4]geom.Vec3)(out[i:]), &w, e.Scale(-weight))
		}
	}
	p.fac.solve3(out)
	for i := range out {
		out[i] = out[i].Add(p.mean[i])
	}
	for i := range s.v {
		out[i] = out[i].Add(s.v[i])
	}
}

// drawWide is draw for a wide path, sight by sight.
func (p *path) drawWide(rng *dice, out []geom.Vec3) {
	p.linkSights()
	clear(out)
	for i, weight := range p.jerks {
		k := knot{i, p.g.jerk(i)}
		pull(out, &k, rng.vector(math.Sqrt(weight)))
	}
	p.pushErrors(out, rng)
	p.fac.solveFlat(out)
	for i := range out {
		out[i] = out[i].Add(p.mean[i])
	}
}

func (p *path) linkSights() {
	if len(p.links) == len(p.sights) {
		return
	}
	var l linker
	for i := range p.sights {
		p.links = append(p.links, l.link(&p.sights[i], 0))
	}
	p.lasts = len(l.last)
}

// pushErrors adds to x the pull of simulated errors of the sights of a wide path.
func (p *path) pushErrors(x []geom.Vec3, rng *dice) {
	last := make([]geom.Vec3, p.lasts)
	lines := p.lines
	for i := range p.sights {
		s, l := &p.sights[i], &p.links[i]
		d := s.dim()
		pull(x, &p.knots[i], pullOf(lines[:d], l.next(s, &last[l.strand], rng)))
		lines = lines[d:]
	}
}

// pullOf is the pull Σ c·e/v of errors e of up to three lines.
func pullOf(lines []line, e geom.Vec3) (v geom.Vec3) {
	for d, x := range [3]float64{e.X, e.Y, e.Z} {
		if d < len(lines) {
			v = v.Add(lines[d].c.Scale(x / lines[d].v))
		}
	}
	return v
}
