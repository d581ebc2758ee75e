package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// plainPath is the plain way to a path of places on a grid, axis by axis: the prior's
// rows, one of them that impact leaves a share of the velocity, and the sights in one band.
type plainPath struct {
	path
	axis band
	rare rows
}

// solve solves for each axis.
func (p *plainPath) solve() bool {
	n := len(p.g.t)
	p.axis.reset(n, 5)
	var x [3][]float64
	for k := range x {
		x[k] = make([]float64, n)
	}
	at := func(first int) []int { return []int{first, first + 1, first + 2, first + 3} }
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		p.axis.row(at(i), w[:], weight)
	}
	p.rare.inform(&p.axis, nil)
	for i := range p.sights {
		s, k := &p.sights[i], &p.knots[i]
		info := s.w / (s.sd * s.sd)
		p.axis.row(at(k.first), k.w[:], info)
		for j, w := range k.w {
			x[0][k.first+j] += info * w * s.p.X
			x[1][k.first+j] += info * w * s.p.Y
			x[2][k.first+j] += info * w * s.p.Z
		}
	}
	anchorLoose(&p.axis)
	if !p.axis.factor() {
		return false
	}
	for k := range x {
		p.axis.solve(x[k])
	}
	for i := range p.mean {
		p.mean[i] = geom.Vec3{X: x[0][i], Y: x[1][i], Z: x[2][i]}
	}
	return true
}

// evidence returns the log marginal likelihood of the sights under Student t
// noise, up to a constant that depends only on the count and spacing of the
// nodes: Laplace's approximation at the reweighted solution (MacKay 2003,
// Information Theory, §27; exact when every weight is 1). passes is how often
// the sights are reweighed.
func (p *plainPath) evidence(r rough, passes int) float64 {
	p.jerks = p.g.jerkWeights(p.jerks, r, nil)
	p.rare.reset()
	p.g.impactRow(&p.rare, r)
	for pass := 0; ; pass++ {
		if !p.solve() {
			return math.Inf(-1)
		}
		if pass >= passes {
			break
		}
		for i := range p.sights {
			p.sights[i].reweigh(p.seen(i))
		}
	}
	logs, loss, prior := 0.0, 0.0, 0.0
	for i := range p.sights {
		s := &p.sights[i]
		loss += (studentDF+3)/2.0*math.Log(1+s.chi2(p.seen(i))/studentDF) + 3*math.Log(s.sd)
	}
	for i, weight := range p.jerks {
		e := combine(p.mean[i:i+4], p.g.jerk(i))
		prior += weight * e.Dot(e)
		logs += math.Log(weight)
	}
	return 0.5*3*(logs+p.rare.logWeights()-p.axis.logDet()) - loss - 0.5*(prior+p.rare.misfit3(p.mean))
}

// impactRow appends that impact leaves the share keep of a velocity.
func (g *grid) impactRow(out *rows, r rough) {
	b := g.brk
	if r.keep == 0 || b < 2 || b+2 >= len(g.t) {
		return
	}
	before, after := edgeSlope(g.t[b-2:b+1], 2), edgeSlope(g.t[b:b+3], 0)
	out.entry(b-2, -r.keep*before[0])
	out.entry(b-1, -r.keep*before[1])
	out.entry(b, after[0]-r.keep*before[2])
	out.entry(b+1, after[1])
	out.entry(b+2, after[2])
	out.end(0, 1/(r.kept*r.kept))
}

// logWeights returns Σ log w.
func (r *rows) logWeights() (sum float64) {
	for _, w := range r.w {
		sum += math.Log(w)
	}
	return sum
}

// misfit3 returns Σ w·(c·x)² over three axes, for rows whose values are zero.
func (r *rows) misfit3(x []geom.Vec3) (sum float64) {
	for k := range r.y {
		var e geom.Vec3
		for j := r.start[k]; j < r.start[k+1]; j++ {
			e = e.Add(x[r.idx[j]].Scale(r.c[j]))
		}
		sum += r.w[k] * e.Dot(e)
	}
	return sum
}
