package track

import (
	"example.com/courtkin/service/geom"
)

// path is the posterior over one point's places at the nodes of a grid.
type path struct {
	g    *grid
	mean []geom.Vec3 // at the nodes
	wide bool        // x, y, z hang together
	fac  *band       // of a wide path: Cholesky factor of the information, 3 unknowns a node
	to   []geom.Vec3 // of a wide path: room for the next mean
	flat []float64   // and for what it is solved in
	even strip       // else: the factor, one axis for all three

	sights []sight
	knots  []knot    // stencils of the sights
	lines  []line    // of a wide path, dim() for each sight
	jerks  []float64 // weights of the prior
	bursts []float64 // factors on its density

	// Of a path of places: what the sights say as they are weighed now.
	info   strip       // their information HᵀWH on one axis
	says   []geom.Vec3 // their pull HᵀWy
	booked bool        // both are up to date

	links []link // of a wide path: how the sights' errors hang together
	lasts int    // how many strands they make

	apart      *apart // of a wide path, where its sights allow it
	shake      shaker
	shaken     bool // shake is ready
	shakeApart *shakerApart
	shakeWide  *shakerWide

	apartRoom apart // memory of apart and shakeApart
	shakeRoom shakerApart
}

// smoothPoint solves a point's path. Sights that are all places need no start
// and take the fast way; others are linearised about the start, which is the
// path to set out from. The weights of the sights are updated in passes.
func smoothPoint(g *grid, s []sight, r rough, passes int, start []geom.Vec3) (*path, bool) {
	p := &path{}
	return p, p.smooth(g, s, r, passes, start)
}

// smooth is smoothPoint in the memory of p.
func (p *path) smooth(g *grid, s []sight, r rough, passes int, start []geom.Vec3) bool {
	p.lay(g, s)
	if p.wide {
		if start == nil {
			return false
		}
		copy(p.mean, start)
	}
	return p.settle(r, passes)
}

// lay makes p the path of sights on a grid, not solved yet, keeping its memory.
func (p *path) lay(g *grid, s []sight) {
	n := len(g.t)
	if p.fac == nil {
		p.fac = &band{}
	}
	if cap(p.mean) < n {
		p.mean = make([]geom.Vec3, n)
	}
	p.g, p.sights, p.mean, p.wide = g, s, p.mean[:n], !allPlaces(s)
	if cap(p.knots) < len(s) {
		p.knots = make([]knot, 0, len(s))
	}
	p.knots = g.knots(s, p.knots[:0])
	p.links, p.shaken, p.shakeApart, p.shakeWide, p.apart, p.booked = p.links[:0], false, nil, nil, nil, false
	if p.wide {
		p.apart = p.apartRoom.of(s)
	}
}

// settle solves the path for a motion, reweighing the sights passes times.
func (p *path) settle(r rough, passes int) bool {
	p.believe(r, nil)
	for pass := range passes + 1 {
		if !p.solve(pass > 0) {
			return false
		}
	}
	return true
}

// reweigh weighs the sights of a path of places anew by the path as it is.
func (p *path) reweigh() { p.book(true) }

// book sums up what places say, where it is told so after weighing them anew by the path.
func (p *path) book(reweigh bool) {
	n := len(p.g.t)
	p.info = p.info.blank(n)
	p.says = sized(p.says, n)
	clear(p.says)
	info, says, sights, knots := p.info, p.says, p.sights, p.knots[:len(p.sights)]
	sd, unit := 0.0, 0.0 // 1/sd²
	for i := range sights {
		s, k := &sights[i], &knots[i]
		if s.sd != sd {
			sd, unit = s.sd, 1/(s.sd*s.sd)
		}
		if reweigh {
			e := s.p.Sub(combine4((*[4]geom.Vec3)(p.mean[k.first:]), &k.w))
			s.w = robustWeight(unit*e.Dot(e), 3)
		}
		weight := unit * s.w
		info.addKnot(k.first, &k.w, weight)
		pull(says, k, s.p.Scale(weight))
	}
	p.info.anchor()
	p.booked = true
}

// seen is the mean place at the i-th sight.
func (p *path) seen(i int) geom.Vec3 {
	k := &p.knots[i]
	return combine(p.mean[k.first:k.first+4], k.w)
}

// believe writes the prior.
func (p *path) believe(r rough, bursts []float64) {
	p.jerks = p.g.jerkWeights(p.jerks, r, bursts)
}

// followBursts solves the path anew with the density raised where it jerks, and the sights
// weighed anew before where it is told so: places once, for
// a second time left the median errors of made strokes in space as they were or a few hundredths
// smaller (240, seeds 7, 31 and 41); what cameras see twice, since a step that takes directions
// apart does not go all the way.
func (p *path) followBursts(r rough, anew bool) bool {
	p.raise(r)
	if !p.solve(anew) {
		return false
	}
	if !p.wide {
		return true
	}
	p.raise(r)
	return p.solve(false)
}

// raise raises the density of jerk where the path jerks more than the motion allows for.
func (p *path) raise(r rough) {
	p.bursts = p.g.bursts(p.bursts, p.mean, r, 3)
	p.believe(r, p.bursts)
}

func allPlaces(s []sight) bool {
	for i := range s {
		if s[i].kind != place {
			return false
		}
	}
	return true
}

// solve makes a step from the present path, by which the sights are weighed anew where it is
// told so.
func (p *path) solve(anew bool) bool {
	switch {
	case p.apart != nil:
		return p.solveApart(anew)
	case p.wide:
		return p.solveWide(anew)
	}
	return p.solveEven(anew)
}

// solveEven solves places: one information matrix serves all three axes.
func (p *path) solveEven(anew bool) bool {
	if anew || !p.booked {
		p.book(anew)
	}
	p.even = append(p.even[:0], p.info...)
	p.informPrior(p.even)
	copy(p.mean, p.says)
	return p.even.solve(p.mean)
}

// informPrior adds the prior's information on one axis.
func (p *path) informPrior(b strip) {
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		b.addKnot(i, &w, weight)
	}
}

// pull adds w·v to the four nodes of a stencil.
func pull(x []geom.Vec3, k *knot, v geom.Vec3) { pull4((*[4]geom.Vec3)(x[k.first:]), &k.w, v) }

func pull4(x *[4]geom.Vec3, w *[4]float64, v geom.Vec3) {
	for j := range x {
		x[j] = geom.Vec3{X: x[j].X + w[j]*v.X, Y: x[j].Y + w[j]*v.Y, Z: x[j].Z + w[j]*v.Z}
	}
}

// solveWide makes one Gauss–Newton step from the present path, all axes together.
func (p *path) solveWide(anew bool) bool {
	b := p.fac
	b.reset(3*len(p.g.t), wideBand)
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		b.addBlocks(i, &w, &sym3{weight, 0, weight, 0, 0, weight})
	}
	p.lines = p.lines[:0]
	to := sized(p.to, len(p.mean))
	clear(to)
	for i := range p.sights {
		first := len(p.lines)
		if anew {
			p.sights[i].reweigh(p.seen(i))
		}
		p.lines = p.sights[i].lines(p.seen(i), p.lines)
		k := &p.knots[i]
		var info sym3
		var v geom.Vec3
		for _, l := range p.lines[first:] {
			addOuter(&info, l.c, 1/l.v)
			v = v.Add(l.c.Scale(l.y / l.v))
		}
		b.addBlocks(k.first, &k.w, &info)
		pull(to, k, v)
	}
	anchorLoose(b)
	if !b.factor() {
		return false
	}
	b.solveFlat(to, &p.flat)
	p.mean, p.to = to, p.mean
	return true
}

// wideBand is the half-bandwidth of a wide path: four nodes of three unknowns.
const wideBand = 11

// looseSD keeps the matrix positive definite where the data leave a stretch
// open: a prior of 1,000 m (or pixels) about the origin, which no motion feels.
const looseSD = 1000.0

func anchorLoose(b *band) { b.diagonal(1 / (looseSD * looseSD)) }

// at returns the mean place at t.
func (p *path) at(t float64) geom.Vec3 {
	first, w := p.g.stencil(t)
	return combine(p.mean[first:first+4], w)
}

func combine(v []geom.Vec3, w [4]float64) geom.Vec3 { return combine4((*[4]geom.Vec3)(v), &w) }

func combine4(v *[4]geom.Vec3, w *[4]float64) geom.Vec3 {
	return geom.Vec3{
		X: w[0]*v[0].X + w[1]*v[1].X + w[2]*v[2].X + w[3]*v[3].X,
		Y: w[0]*v[0].Y + w[1]*v[1].Y + w[2]*v[2].Y + w[3]*v[3].Y,
		Z: w[0]*v[0].Z + w[1]*v[1].Z + w[2]*v[2].Z + w[3]*v[3].Z,
	}
}
