package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// shakerApart draws errors of a path that is solved apart: as shaker does, for each
// direction. What lasts of the errors is drawn at the nodes as well: of image points
// as first-order courses (one for each camera, mixed as they inform a direction), of
// distances that a lift found as the lift's own draws have them.
type shakerApart struct {
	axes  [3]axisShaker
	lifts []*sight  // the sights with a lift's errors, in time order
	at    []int     // for each node, the first of the two of them between which it lies
	share []float64 // and the share of the second
	errs  []float64 // room for what they say at the nodes, metres
	room  axesRoom

	sums  strips      // room for the covariances of the pulls
	loads []geom.Vec3 // room for the sights' information of the directions, shared out to the nodes

	strands []lasting // room
}

// empty makes s one for n nodes to which nothing was added, keeping its memory.
func (s *shakerApart) empty(n int) {
	s.room.lay(n)
	s.sums = s.sums.blank(n)
	s.loads = sized(s.loads, n)
	clear(s.loads)
	s.lifts, s.at, s.share = s.lifts[:0], s.at[:0], s.share[:0]
}

func (p *path) newShakerApart() *shakerApart {
	t := p.apart
	n := len(p.mean)
	s := &p.shakeRoom
	s.empty(n)
	a, loads := s.sums, s.loads
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		a.addKnots(i, &w, t.squares(i+1).Scale(weight))
	}
	strands, lines := s.strands[:0], p.lines
	for i := range p.sights {
		x, k := &p.sights[i], &p.knots[i]
		v := 1 / lines[0].v
		info := t.tells[i].Scale(v)
		pull(loads, k, info)
		if x.errs != nil {
			s.lifts = append(s.lifts, x)
		} else {
			a.addKnots(k.first, &k.w, info.Scale(x.h.white*x.h.white*v))
			strands = lastingOf(strands, x, info)
		}
		lines = lines[x.dim():]
	}
	s.strands = strands
	a.anchor()
	for k := range s.axes {
		was := &s.axes[k]
		c, factor, lasts := was.pulls.blank(n), was.factor.blank(n), slices.Grow(was.lasts[:0], n)[:n]
		for i := range n {
			c[i], factor[i] = a[i][k], t.a[i][k]
		}
		s.axes[k], _ = newAxisShaker(c, factor) // positive definite by its anchor
		s.axes[k].lasts = lasts
	}
	for i, g := range loads {
		for k, v := range [3]float64{g.X, g.Y, g.Z} {
			s.axes[k].lasts[i].load = v
		}
	}
	s.layLasting(p, strands)
	s.layLifts(p.g)
	return s
}

// lasting is one camera's errors, or a kind's, and what it informs of each direction.
type lasting struct {
	eye  *camera.Pose
	kind kind
	h    *hiss
	info geom.Vec3
}

func lastingOf(all []lasting, s *sight, info geom.Vec3) []lasting {
	for i := range all {
		if a := &all[i]; a.eye == s.eye && a.kind == s.kind {
			a.info = a.info.Add(info)
			return all
		}
	}
	return append(all, lasting{s.eye, s.kind, s.h, info})
}

// layLasting sets how the lasting errors go from node to node.
func (s *shakerApart) layLasting(p *path, all []lasting) {
	var total geom.Vec3
	for i := range all {
		total = total.Add(all[i].info)
	}
	part := func(v, of float64) float64 {
		if of > 0 {
			return v / of
		}
		return 0
	}
	memory := 0.0
	for i := range all {
		memory = math.Max(memory, all[i].h.memory)
	}
	fading := p.g.fading(memory)
	for i, x := range p.mean {
		var variance geom.Vec3
		for k := range all {
			a := &all[k]
			sd := a.h.slow
			if a.kind == image {
				sd *= math.Max(0, a.eye.InCamera(x).Z) / a.eye.Focal
			}
			f := geom.Vec3{X: part(a.info.X, total.X), Y: part(a.info.Y, total.Y), Z: part(a.info.Z, total.Z)}
			variance = variance.Add(geom.Vec3{X: f.X * f.X, Y: f.Y * f.Y, Z: f.Z * f.Z}.Scale(sd * sd))
		}
		f := fading[i]
		for k, v := range [3]float64{variance.X, variance.Y, variance.Z} {
			s.axes[k].lasts[i].keep, s.axes[k].lasts[i].fresh = f.keep, f.fresh*math.Sqrt(v)
		}
	}
}

// layLifts sets where the nodes lie between a lift's.
func (s *shakerApart) layLifts(g *grid) {
	if len(s.lifts) < 2 {
		s.lifts = s.lifts[:0]
		return
	}
	s.errs = slices.Grow(s.errs[:0], len(g.t))[:len(g.t)]
	k := 0
	for i, t := range g.t {
		s.axes[2].lasts[i].keep, s.axes[2].lasts[i].fresh = 0, 1
		for k+2 < len(s.lifts) && s.lifts[k+1].t < t {
			k++
		}
		a, b := s.lifts[k].t, s.lifts[k+1].t
		s.at = append(s.at, k)
		s.share = append(s.share, clamp((t-a)/math.Max(b-a, 1e-9), 0, 1))
	}
}

// draw writes a draw of the path's course into out.
func (s *shakerApart) draw(p *path, rng *dice, out []geom.Vec3) {
	var errs []float64
	if len(s.lifts) > 0 {
		errs = s.errs
		s.lifted(rng.member, errs)
	}
	s.room.draw([3]*axisShaker{&s.axes[0], &s.axes[1], &s.axes[2]}, rng, errs, out)
	for i, at := range p.mean {
		out[i] = at.Add(p.apart.place(i, out[i]))
	}
}

// lifted writes a lift's own errors along the ray into v.
func (s *shakerApart) lifted(member int, v []float64) {
	for i := range v {
		a, b := s.lifts[s.at[i]].errs, s.lifts[s.at[i]+1].errs
		m := member % len(a)
		v[i] = a[m] + s.share[i]*(b[m]-a[m])
	}
}
