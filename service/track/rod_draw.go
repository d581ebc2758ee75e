package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// rodShaker draws errors of a rod: by its unknowns at the nodes where two cameras or a
// space show it, sight by sight where one camera does.
type rodShaker struct {
	blocks *blockShaker // nil: sight by sight
	lines  []line       // of the sights, dim() each
	links  []link       // how the sights' errors hang together
	lasts  int          // how many strands they make
}

// draw writes one draw from the posterior into grip and axis, as path.draw does.
func (r *rod) draw(rng *dice, grip, axis []geom.Vec3, scratch []float64) {
	if r.shake == nil {
		r.shake = r.newShaker()
	}
	x := scratch[:len(r.axis)*rodDims]
	if r.shake.blocks != nil {
		r.shake.blocks.draw(rng, r.fac, x, r.pushPrior)
	} else {
		r.drawPlain(rng, x)
	}
	for k := range r.axis {
		d := x[k*rodDims:]
		grip[k] = r.grip[k].Add(geom.Vec3{X: d[0], Y: d[1], Z: d[2]})
		axis[k] = turned(r.axis[k], r.e1[k], r.e2[k], d[3], d[4])
	}
}

func (r *rod) newShaker() *rodShaker {
	if r.seenInSpace() {
		if b, ok := r.newBlockShaker(); ok {
			return &rodShaker{blocks: b}
		}
	}
	return r.newPlainShaker()
}

// seenInSpace reports whether the sights are places, or images by several cameras.
func (r *rod) seenInSpace() bool {
	several := false
	for i := range r.sights {
		if r.sights[i].errs != nil || r.sights[i].kind == reach {
			return false
		}
		several = several || r.sights[i].kind == place || r.sights[i].eye != r.sights[0].eye
	}
	return several
}

// newBlockShaker sums up the errors of the sights.
func (r *rod) newBlockShaker() (*blockShaker, bool) {
	n := len(r.axis)
	pulls, last := r.room.band(), newBlockErrors(rodDims, n)
	r.layBand(pulls)
	r.believe(pulls, nil)
	r.prior.inform(pulls, nil)
	var room [3]line
	var sum gathered
	for i := range r.glances {
		at := &r.glances[i]
		if at.first != sum.first {
			r.inform(pulls, &sum)
			sum.begin(at.first, r.sharing(i))
		}
		grip, axis := r.read(at)
		var moments leverage
		for k := at.from; k < at.to; k++ {
			s := &r.sights[k]
			strand := last.strand(&s.sight, s.along)
			if s.kind == place {
				v := s.sd * s.sd / s.w
				moments.addEven(square(s.h.white/v), s.along)
				last.addPlace(at.first+1, strand, s.along, v, s.h.slow)
				last.addPlace(at.first+2, strand, s.along, v, s.h.slow)
				continue
			}
			for d, l := range s.lines(grip.Add(axis.Scale(s.along)), room[:0]) {
				var m sym3
				addOuter(&m, l.c, 1)
				moments.add(&m, square(s.h.white/l.v), s.along)
				for _, node := range [2]int{at.first + 1, at.first + 2} {
					c := [rodDims]float64{l.c.X, l.c.Y, l.c.Z, s.along * l.c.Dot(r.e1[node]), s.along * l.c.Dot(r.e2[node])}
					last.add(node, strand, d, &c, l.v, s.h.slow)
				}
			}
		}
		r.gather(pulls, &sum, at, &moments)
	}
	r.inform(pulls, &sum)
	anchorLoose(pulls)
	last.spread(r.e1, r.e2)
	return newBlockShaker(rodDims, pulls, r.g.t, last)
}

// pushPrior takes the prior's information times v from x.
func (r *rod) pushPrior(v, x []float64) {
	for i := range r.g.inv {
		w := r.g.jerk(i)
		a := (*[4 * rodDims]float64)(v[rodDims*i:])
		y := (*[4 * rodDims]float64)(x[rodDims*i:])
		weight := r.handJerk[i]
		for k := range rodDims {
			if k == 3 {
				weight = r.turnJerk[i]
			}
			e := -weight * (w[0]*a[k] + w[1]*a[rodDims+k] + w[2]*a[2*rodDims+k] + w[3]*a[3*rodDims+k])
			y[k] += w[0] * e
			y[rodDims+k] += w[1] * e
			y[2*rodDims+k] += w[2] * e
			y[3*rodDims+k] += w[3] * e
		}
	}
	for k := range r.prior.y {
		r.prior.push(x, k, -r.prior.of(v, k))
	}
}

// newPlainShaker links the sights of a rod and linearises them.
func (r *rod) newPlainShaker() *rodShaker {
	s := &rodShaker{links: make([]link, 0, len(r.sights)), lines: make([]line, 0, 2*len(r.sights))}
	var l linker
	for i := range r.glances {
		v := &r.glances[i]
		grip, axis := r.read(v)
		for k := v.from; k < v.to; k++ {
			x := &r.sights[k]
			s.links = append(s.links, l.link(&x.sight, x.along))
			s.lines = x.lines(grip.Add(axis.Scale(x.along)), s.lines)
		}
	}
	s.lasts = len(l.last)
	return s
}

// drawPlain writes the errors of a draw into x, sight by sight.
func (r *rod) drawPlain(rng *dice, x []float64) {
	clear(x)
	r.shakePrior(x, rng)
	r.prior.shakeFlat(x, rng)
	last := make([]geom.Vec3, r.shake.lasts)
	lines := r.shake.lines
	for i := range r.glances {
		v := &r.glances[i]
		var f0, f1 geom.Vec3
		for k := v.from; k < v.to; k++ {
			s, l := &r.sights[k], &r.shake.links[k]
			d := s.dim()
			f := pullOf(lines[:d], l.next(&s.sight, &last[l.strand], rng))
			lines = lines[d:]
			f0 = f0.Add(f)
			f1 = f1.Add(f.Scale(s.along))
		}
		if v.bent > 0 {
			f1 = f1.Add(geom.Vec3{X: rng.normal(), Y: rng.normal(), Z: rng.normal()}.Scale(math.Sqrt(v.bent)))
		}
		r.push(v, x, f0, f1)
	}
	r.fac.solve(x)
}

// shakePrior adds to x the pull of a jerk drawn from the prior.
func (r *rod) shakePrior(x []float64, rng *dice) {
	for i := range r.g.inv {
		w := r.g.jerk(i)
		grip, axis := math.Sqrt(r.handJerk[i]), math.Sqrt(r.turnJerk[i])
		e := [rodDims]float64{
			grip * rng.normal(), grip * rng.normal(), grip * rng.normal(), axis * rng.normal(), axis * rng.normal(),
		}
		for j, c := range w {
			y := x[rodDims*(i+j) : rodDims*(i+j)+rodDims]
			for k, v := range e {
				y[k] += c * v
			}
		}
	}
}
