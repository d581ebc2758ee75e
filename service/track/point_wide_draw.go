package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// shakerWide draws errors of a path whose axes hang together: by its unknowns at the
// nodes where several cameras see it, else sight by sight.
type shakerWide struct {
	blocks *blockShaker // nil: sight by sight
	room   []float64
}

func (p *path) newShakerWide() *shakerWide {
	s := &shakerWide{room: make([]float64, 3*len(p.mean))}
	if p.seenInSpace() {
		if b, ok := p.newBlockShaker(); ok {
			s.blocks = b
		}
	}
	return s
}

// seenInSpace reports whether the sights are places, or images by several cameras.
func (p *path) seenInSpace() bool {
	several := false
	for i := range p.sights {
		if p.sights[i].kind == reach {
			return false
		}
		several = several || p.sights[i].kind == place || p.sights[i].eye != p.sights[0].eye
	}
	return several
}

// newBlockShaker sums up the errors of the sights.
func (p *path) newBlockShaker() (*blockShaker, bool) {
	n := len(p.mean)
	pulls, last := &band{}, newBlockErrors(3, n)
	pulls.reset(3*n, wideBand)
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		m := diagonal(weight)
		pulls.addBlocks(i, &w, &m)
	}
	lines := p.lines
	for i := range p.sights {
		s, k := &p.sights[i], &p.knots[i]
		strand := last.strand(s, 0)
		var noise sym3
		for d, l := range lines[:s.dim()] {
			addOuter(&noise, l.c, square(s.h.white/l.v))
			for _, node := range [2]int{k.first + 1, k.first + 2} {
				last.add(node, strand, d, &[mostUnknowns]float64{l.c.X, l.c.Y, l.c.Z}, l.v, s.h.slow)
			}
		}
		pulls.addBlocks(k.first, &k.w, &noise)
		lines = lines[s.dim():]
	}
	anchorLoose(pulls)
	return newBlockShaker(3, pulls, p.g.t, last)
}

// pushPrior takes the prior's information times v from x.
func (p *path) pushPrior(v, x []float64) {
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		a, y := (*[12]float64)(v[3*i:]), (*[12]float64)(x[3*i:])
		for k := range 3 {
			e := -weight * (w[0]*a[k] + w[1]*a[3+k] + w[2]*a[6+k] + w[3]*a[9+k])
			y[k] += w[0] * e
			y[3+k] += w[1] * e
			y[6+k] += w[2] * e
			y[9+k] += w[3] * e
		}
	}
}

func (s *shakerWide) draw(p *path, rng *dice, out []geom.Vec3) {
	if s.blocks == nil {
		p.drawWide(rng, out)
		return
	}
	s.blocks.draw(rng, p.fac, s.room, p.pushPrior)
	for i, at := range p.mean {
		x := (*[3]float64)(s.room[3*i:])
		out[i] = geom.Vec3{X: at.X + x[0], Y: at.Y + x[1], Z: at.Z + x[2]}
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
	p.fac.solveFlat(out, &p.flat)
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
