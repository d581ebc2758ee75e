package track

import (
	"slices"

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
	if !p.shaken {
		p.readyShaker()
	}
	p.shake.draw(p, rng, out)
}

// shaker draws errors of a path of places, whose axes err alike.
type shaker struct {
	axis axisShaker
	c    strip // covariance of the pulls, then the memory of its factor
}

func (p *path) readyShaker() {
	n := len(p.g.t)
	s := &p.shake
	s.c = s.c.blank(n)
	p.informPrior(s.c)
	h := p.sights[0].h
	lasts := slices.Grow(s.axis.lasts[:0], n)[:n]
	clear(lasts)
	for i := range p.sights {
		x, k := &p.sights[i], &p.knots[i]
		info := x.w / (x.sd * x.sd)
		s.c.addKnot(k.first, &k.w, square(info*x.h.white))
		for j, w := range k.w {
			lasts[k.first+j].load += w * info
		}
	}
	s.c.anchor()
	s.axis, _ = newAxisShaker(s.c, p.even) // C is positive definite by its anchor
	for i, f := range p.g.fading(h.memory) {
		lasts[i].keep, lasts[i].fresh = f.keep, h.slow*f.fresh
	}
	s.axis.lasts = lasts
	p.shaken = true
}

func (s *shaker) draw(p *path, rng *dice, out []geom.Vec3) {
	s.axis.halves(rng, out)
	s.axis.back(p.mean, out)
}
