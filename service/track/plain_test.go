package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/geom"
)

// plainBreaker is the plain way to the evidence for a break: for every instant
// the path is solved anew on a grid laid from there, its sights reweighed for it.
type plainBreaker struct {
	sights []sight
	rough  rough
	guess  float64
	work   plainPath
}

func (b *plainBreaker) choose(ts []float64) []float64 {
	var vs [len(breakLevels)][]float64
	for _, t := range ts {
		seen := b.breakAt(t)
		for k, factor := range breakLevels {
			try, v := b.rough, 0.0
			try.level *= factor
			if seen {
				v = b.work.evidence(try, max(1, 2-k))
			}
			vs[k] = append(vs[k], v)
		}
	}
	best, top := 0, math.Inf(-1)
	for k := range vs {
		if sum := logSum(vs[k]); sum > top {
			best, top = k, sum
		}
	}
	b.rough.level *= breakLevels[best]
	return vs[best]
}

func (b *plainBreaker) finer(ts []float64, _ float64) (vs []float64) {
	for _, t := range ts {
		v := 0.0
		if b.breakAt(t) {
			v = b.work.evidence(b.rough, 2)
		}
		vs = append(vs, v)
	}
	return vs
}

// breakAt lays the path over the sights around the guess, broken at t. The grid has
// the same count of nodes for every t, so that evidences compare.
func (b *plainBreaker) breakAt(t float64) bool {
	lo, hi := b.guess-contactReach-breakerMargin, b.guess+contactReach+breakerMargin
	in := within(b.sights, lo, hi)
	if len(in) < leastSights {
		return false
	}
	for i := range in {
		in[i].w = 1
	}
	const nodes = int(2*(contactReach+breakerMargin)/contactStep) + 8
	before := int(clamp(math.Ceil((t-lo)/contactStep)+3, 4, float64(nodes-4)))
	b.work.lay(newUniform(t, contactStep, before, nodes-before), in)
	return true
}

// plainBall is the plain way to a ball's evidence: every instant from the same
// start, the normal equations as rows of one matrix.
type plainBall struct {
	model *ballModel
	v     [ballDims]float64 // place, velocity before, velocity after
}

func (b *plainBall) choose(ts []float64) (vs []float64) {
	in := slices.Clone(b.model.sights)
	for _, t := range ts {
		vs = append(vs, b.evidence(in, t))
	}
	return vs
}

func (b *plainBall) finer(ts []float64, _ float64) []float64 { return b.choose(ts) }

// ballDims is struck place, velocity before, velocity after.
const ballDims = 9

// vec returns the k-th of the three vectors.
func (b *plainBall) vec(k int) geom.Vec3 {
	return geom.Vec3{X: b.v[3*k], Y: b.v[3*k+1], Z: b.v[3*k+2]}
}

// at returns the place dt seconds from impact.
func (b *plainBall) at(dt float64) geom.Vec3 {
	v := b.vec(1)
	if dt > 0 {
		v = b.vec(2)
	}
	s := v.Norm()
	along := dt
	if s > 1 {
		// Distance along the path under drag: ln(1 + k·s·t)/k.
		along = math.Log1p(math.Max(-0.9, dragPerMetre*s*dt)) / (dragPerMetre * s)
	}
	return b.vec(0).Add(v.Scale(along)).Add(geom.Vec3{Y: -0.5 * gravity * dt * dt})
}

// evidence returns the log evidence for impact at t: Laplace's approximation at
// the best flight, found by damped Gauss–Newton steps (Marquardt 1963).
func (b *plainBall) evidence(in []sight, t float64) float64 {
	if len(in) < leastFlight {
		return 0
	}
	p := b.model.near
	b.v = [ballDims]float64{p.X, p.Y, p.Z}
	var a band
	damping, cost := 1e-2, b.cost(in, t)
	for range 25 {
		before := b.v
		if !b.step(&a, in, t, damping) {
			return math.Inf(-1)
		}
		next := b.cost(in, t)
		if !(next < cost) {
			b.v = before
			if damping *= 8; damping > 1e6 {
				break
			}
			continue
		}
		done := cost-next < 0.01
		cost, damping = next, math.Max(1e-6, damping/6)
		if done {
			break
		}
	}
	if !b.step(&a, in, t, 0) {
		return math.Inf(-1)
	}
	return -cost - 0.5*a.logDet()
}

// cost is the negative log posterior of the present flight, up to a constant.
func (b *plainBall) cost(in []sight, t float64) (sum float64) {
	for i := range in {
		d := float64(in[i].dim())
		sum += (studentDF + d) / 2 * math.Log1p(in[i].chi2(b.at(in[i].t-t))/studentDF)
	}
	pri, place := b.model.precisions(), b.vec(0).Sub(b.model.near)
	v, u := b.vec(1), b.vec(2)
	return sum + 0.5*(pri[0]*place.Dot(place)+pri[1]*v.Dot(v)+pri[2]*u.Dot(u))
}

// step moves the flight by one damped Gauss–Newton step on the reweighted
// sights; a is left factored.
func (b *plainBall) step(a *band, in []sight, t, damping float64) bool {
	a.reset(ballDims, ballDims-1)
	var x [ballDims]float64
	pri := b.model.precisions()
	near := [3]float64{b.model.near.X, b.model.near.Y, b.model.near.Z}
	for i := range ballDims {
		a.add(i, i, pri[i/3])
		x[i] = -pri[i/3] * b.v[i]
		if i < 3 {
			x[i] += pri[0] * near[i]
		}
	}
	var room [3]line
	for i := range in {
		s := &in[i]
		dt := s.t - t
		p := b.at(dt)
		s.reweigh(p)
		k := 3
		if dt > 0 {
			k = 6
		}
		gain := dt
		if n := b.vec(k / 3).Norm(); n > 1 {
			gain = math.Log1p(math.Max(-0.9, dragPerMetre*n*dt)) / (dragPerMetre * n)
		}
		for _, l := range s.lines(p, room[:0]) {
			rest := l.y - l.c.Dot(p)
			idx := [...]int{0, 1, 2, k, k + 1, k + 2}
			c := [...]float64{l.c.X, l.c.Y, l.c.Z, gain * l.c.X, gain * l.c.Y, gain * l.c.Z}
			a.row(idx[:], c[:], 1/l.v)
			for j, q := range idx {
				x[q] += rest * c[j] / l.v
			}
		}
	}
	for i := range ballDims {
		k := i*ballDims + ballDims - 1
		a.a[k] += damping * a.a[k]
	}
	if !a.factor() {
		return false
	}
	if damping == 0 {
		return true // only the information is wanted
	}
	a.solve(x[:])
	for i := range x {
		b.v[i] += x[i]
	}
	return true
}
