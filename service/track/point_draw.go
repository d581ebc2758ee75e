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
		if p.shakeWide == nil {
			p.shakeWide = p.newShakerWide()
		}
		p.shakeWide.draw(p, rng, out)
		return
	}
	if p.shake == nil {
		p.shake = p.newShaker()
	}
	p.shake.draw(p, rng, out)
}

// shaker draws errors of a path of places, whose axes err alike.
type shaker struct {
	axis axisShaker
	room *axesRoom
}

func (p *path) newShaker() *shaker {
	n := len(p.g.t)
	var c band
	c.reset(n, 4)
	p.informPrior(&c)
	for i := range p.sights {
		x, k := &p.sights[i], &p.knots[i]
		info := x.w * x.h.white / (x.sd * x.sd)
		c.addKnot(k.first, &k.w, info*info)
	}
	anchorLoose(&c)
	s := &shaker{room: newAxesRoom(n)}
	s.axis, _ = newAxisShaker(&c, p.priorStencils(nil), p.fac.a) // C is positive definite by its anchor
	if h := p.sights[0].h; h.slow > 0 {
		keep, fresh := make([]float64, n), make([]float64, n)
		for i := range n {
			fresh[i] = h.slow
			if i > 0 && h.memory > 0 {
				keep[i] = math.Exp((p.g.t[i-1] - p.g.t[i]) / h.memory)
				fresh[i] *= math.Sqrt(1 - keep[i]*keep[i])
			}
		}
		s.axis.lasting, s.axis.keep, s.axis.fresh = true, keep, fresh
	}
	return s
}

func (s *shaker) draw(p *path, rng *dice, out []geom.Vec3) {
	if s.axis.lasting {
		for k := range s.room.v {
			s.room.last(&s.axis, k, rng)
		}
	}
	s.room.draw([3]*axisShaker{&s.axis, &s.axis, &s.axis}, rng)
	x, y, z := s.room.x[0], s.room.x[1], s.room.x[2]
	for i, at := range p.mean {
		out[i] = geom.Vec3{X: at.X + x[i], Y: at.Y + y[i], Z: at.Z + z[i]}
	}
}
