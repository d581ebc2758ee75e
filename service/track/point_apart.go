package track

import (
	"math"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// A point that cameras see is solved apart along three directions of its own at each
// node. Seen by one camera, they are across the image, down the image, and along the
// ray: an image point says nothing of the third, a distance nothing of the others.
// Seen by two, each of the first two lies along the one camera's ray, so that the other
// alone sees it, and the third moves both images square to these: across the plane of the
// rays, however the cameras are held. What still ties the directions
// to each other (a turn of the ray from node to node, the prior where they are not
// square) is left out of the step's matrix but not out of its right-hand side, so
// that the steps go to the same solution, in about as many as reweighing takes.
// solveWide is the plain way.
type apart struct {
	eyes   []*camera.Pose // one or two
	basis  [3][]geom.Vec3 // the directions at the nodes, metres a metre
	bend   float64        // the largest focal/z², z the distance of a node from a camera, pixels/m²
	about  []geom.Vec3    // the path about which they were laid and the sights linearised
	slack  float64        // how far images may be off for that, pixels
	tells  []geom.Vec3    // of each sight, its information of the directions, times its variance
	seen   strips         // the sums of that …
	summed bool           // … as the sights are weighed now
	a      strips         // the matrices of the three directions
	step   []geom.Vec3
}

// of returns the way to solve sights apart, in the memory of a; nil where they do not allow it.
func (a *apart) of(s []sight) *apart {
	a.eyes, a.about = a.eyes[:0], a.about[:0]
	for i := range s {
		switch {
		case s[i].kind == place:
			return nil
		case s[i].kind == reach:
			continue
		case len(a.eyes) > 0 && s[i].eye == a.eyes[0], len(a.eyes) > 1 && s[i].eye == a.eyes[1]:
			continue
		case len(a.eyes) == 2:
			return nil
		}
		a.eyes = append(a.eyes, s[i].eye)
	}
	if len(a.eyes) == 0 {
		return nil
	}
	return a
}

// leastSquare is the least sine of the angle between two cameras' rays, squared, at which
// their directions are told apart: 25°.
const leastSquare = 0.18

// lay sets the directions about a course; false where they fall together.
func (a *apart) lay(mean []geom.Vec3) bool {
	for k := range a.basis {
		if cap(a.basis[k]) < len(mean) {
			a.basis[k] = make([]geom.Vec3, len(mean))
		}
		a.basis[k] = a.basis[k][:len(mean)]
	}
	a.bend = 0
	for i, x := range mean {
		e := a.eyes[0]
		c := e.InCamera(x)
		if !(c.Z > 0.1) {
			return false
		}
		a.bend = math.Max(a.bend, e.Focal/(c.Z*c.Z))
		if len(a.eyes) == 1 {
			right, down, ahead := e.R.Row(0), e.R.Row(1), e.R.Row(2)
			a.basis[0][i], a.basis[1][i] = right, down
			a.basis[2][i] = right.Scale(c.X / c.Z).Add(down.Scale(c.Y / c.Z)).Add(ahead)
		} else if !a.layTwo(i, x, c) {
			return false
		}
	}
	return true
}

// layTwo sets the directions at a node between two cameras, x being the place there and c
// the same in the first one's axes; false where the rays fall together.
func (a *apart) layTwo(i int, x, c geom.Vec3) bool {
	d := a.eyes[1].InCamera(x)
	if !(d.Z > 0.1) {
		return false
	}
	a.bend = math.Max(a.bend, a.eyes[1].Focal/(d.Z*d.Z))
	right, down, ray := imageAxes(a.eyes[0], c)
	right2, down2, ray2 := imageAxes(a.eyes[1], d)
	// How either image moves along the other camera's ray, and the gradients of that.
	u, v := right.Dot(ray2), down.Dot(ray2)
	u2, v2 := right2.Dot(ray), down2.Dot(ray)
	moves, moves2 := u*u+v*v, u2*u2+v2*v2
	if !(moves > leastSquare && moves2 > leastSquare) {
		return false
	}
	n := right.Scale(u).Add(down.Scale(v)).Cross(right2.Scale(u2).Add(down2.Scale(v2))).Unit()
	p, q, p2, q2 := right.Dot(n), down.Dot(n), right2.Dot(n), down2.Dot(n)
	a.basis[0][i], a.basis[1][i] = ray2.Scale(1/math.Sqrt(moves)), ray.Scale(1/math.Sqrt(moves2))
	a.basis[2][i] = n.Scale(math.Sqrt2 / math.Sqrt(p*p+q*q+p2*p2+q2*q2))
	return true
}

// imageAxes returns how a camera's image of a place moves with it, as shares of focal length
// over depth, and the unit ray to it; c is the place in the camera's axes.
func imageAxes(e *camera.Pose, c geom.Vec3) (right, down, ray geom.Vec3) {
	x, y, z := e.R.Row(0), e.R.Row(1), e.R.Row(2)
	ray = x.Scale(c.X).Add(y.Scale(c.Y)).Add(z.Scale(c.Z)).Unit()
	return x.Sub(z.Scale(c.X / c.Z)), y.Sub(z.Scale(c.Y / c.Z)), ray
}

// along returns the parts of a coefficient along the directions at a node.
func (a *apart) along(i int, c geom.Vec3) geom.Vec3 {
	return geom.Vec3{X: c.Dot(a.basis[0][i]), Y: c.Dot(a.basis[1][i]), Z: c.Dot(a.basis[2][i])}
}

// place returns the displacement of parts along the directions at a node.
func (a *apart) place(i int, d geom.Vec3) geom.Vec3 {
	return a.basis[0][i].Scale(d.X).Add(a.basis[1][i].Scale(d.Y)).Add(a.basis[2][i].Scale(d.Z))
}

// squares are the squared lengths of the directions at a node.
func (a *apart) squares(i int) geom.Vec3 {
	x, y, z := a.basis[0][i], a.basis[1][i], a.basis[2][i]
	return geom.Vec3{X: x.Dot(x), Y: y.Dot(y), Z: z.Dot(z)}
}

// linearise lays the directions about the present path and linearises the sights there; false
// where the directions fall together.
func (p *path) linearise() bool {
	t := p.apart
	if !t.lay(p.mean) {
		return false
	}
	t.about = append(t.about[:0], p.mean...)
	t.tells = sized(t.tells, len(p.sights))
	t.slack, t.summed = math.Inf(1), false
	p.lines = p.lines[:0]
	for i := range p.sights {
		at, s := len(p.lines), &p.sights[i]
		p.lines = s.lines(p.seen(i), p.lines)
		var tells geom.Vec3
		for _, l := range p.lines[at:] {
			e := t.along(p.knots[i].first+1, l.c)
			tells = geom.Vec3{X: tells.X + e.X*e.X, Y: tells.Y + e.Y*e.Y, Z: tells.Z + e.Z*e.Z}
		}
		t.tells[i] = tells
		if s.kind == image {
			t.slack = math.Min(t.slack, mostBent*s.sd)
		}
	}
	return true
}

// mostBent is by how much of its noise an image may be off what it was linearised to be.
const mostBent = 0.1

// straight reports whether the sights are still what they were linearised to be: the image of a
// place at the distance z that moves by d is off by up to focal·(d/z)².
func (p *path) straight() bool {
	t := p.apart
	if len(t.about) != len(p.mean) {
		return false
	}
	most := 0.0
	for i, x := range p.mean {
		d := x.Sub(t.about[i])
		most = math.Max(most, d.Dot(d))
	}
	return most*t.bend < t.slack
}

// solveApart makes one step from the present path.
func (p *path) solveApart(anew bool) bool {
	t := p.apart
	if !p.straight() && !p.linearise() {
		p.apart = nil
		return p.solveWide(anew)
	}
	t.step = sized(t.step, len(p.mean))
	clear(t.step)
	p.lookApart(anew)
	t.a = append(t.a[:0], t.seen...)
	for i, weight := range p.jerks {
		w := p.g.jerk(i)
		e := combine4((*[4]geom.Vec3)(p.mean[i:]), &w)
		pull4((*[4]geom.Vec3)(t.step[i:]), &w, e.Scale(-weight))
		t.a.addKnots(i, &w, t.squares(i+1).Scale(weight))
	}
	if !t.a.factor() {
		return false
	}
	for i, f := range t.step {
		t.step[i] = t.along(i, f)
	}
	t.a.solve(t.step)
	for i, d := range t.step {
		p.mean[i] = p.mean[i].Add(t.place(i, d))
	}
	return true
}

// lookApart adds what the sights pull at the present path, by which they are weighed anew where
// it is told so, and sums up what they say where that is not what it was.
func (p *path) lookApart(anew bool) {
	t := p.apart
	sum := anew || !t.summed
	if sum {
		t.seen = t.seen.blank(len(p.mean))
	}
	lines := p.lines
	for i := range p.sights {
		s, k := &p.sights[i], &p.knots[i]
		own, x := lines[:s.dim()], p.seen(i)
		lines = lines[len(own):]
		var f geom.Vec3
		chi2 := 0.0
		for j := range own {
			l := &own[j]
			e := l.y - (l.c.X*x.X + l.c.Y*x.Y + l.c.Z*x.Z)
			f = geom.Vec3{X: f.X + e*l.c.X, Y: f.Y + e*l.c.Y, Z: f.Z + e*l.c.Z}
			chi2 += e * e
		}
		if anew {
			v := s.sd * s.sd
			s.w = robustWeight(chi2/v, len(own))
			for j := range own {
				own[j].v = v / s.w
			}
		}
		v := 1 / own[0].v
		if sum {
			t.seen.addKnots(k.first, &k.w, t.tells[i].Scale(v))
		}
		pull4((*[4]geom.Vec3)(t.step[k.first:]), &k.w, f.Scale(v))
	}
	if sum {
		t.seen.anchor()
		t.summed = true
	}
}

// strips are three strips side by side, whose sums do not wait for each other.
type strips [][3][4]float64

// blank returns strips of n rows of zeros in the memory of s.
func (s strips) blank(n int) strips {
	if cap(s) < n {
		return make(strips, n, n+n/4)
	}
	s = s[:n]
	clear(s)
	return s
}

// addKnots is strip.addKnot for each of the three, with its own weight.
func (s strips) addKnots(first int, w *[4]float64, weight geom.Vec3) {
	a := (*[4][3][4]float64)(s[first:])
	for k, v := range [3]float64{weight.X, weight.Y, weight.Z} {
		w0, w1, w2, w3 := v*w[0], v*w[1], v*w[2], v*w[3]
		a[0][k][3] += w0 * w[0]
		a[1][k][2] += w1 * w[0]
		a[1][k][3] += w1 * w[1]
		a[2][k][1] += w2 * w[0]
		a[2][k][2] += w2 * w[1]
		a[2][k][3] += w2 * w[2]
		a[3][k][0] += w3 * w[0]
		a[3][k][1] += w3 * w[1]
		a[3][k][2] += w3 * w[2]
		a[3][k][3] += w3 * w[3]
	}
}

// anchor is anchorLoose.
func (s strips) anchor() {
	for i := range s {
		for k := range 3 {
			s[i][k][3] += 1 / (looseSD * looseSD)
		}
	}
}

// factor is strip.factor.
func (s strips) factor() bool {
	ok := true
	for i := range s {
		for k := range 3 {
			r := &s[i][k]
			v0, v1, v2 := r[0], r[1], r[2]
			var l0, l1, l2 float64
			switch {
			case i >= 3:
				r1, r2, r3 := &s[i-1][k], &s[i-2][k], &s[i-3][k]
				v1 -= v0 * r2[2]
				v2 -= v0*r1[1] + v1*r1[2]
				l0, l1, l2 = v0*r3[3], v1*r2[3], v2*r1[3]
			case i == 2:
				r1, r2 := &s[i-1][k], &s[i-2][k]
				v2 -= v1 * r1[2]
				l1, l2 = v1*r2[3], v2*r1[3]
			case i == 1:
				l2 = v2 * s[0][k][3]
			}
			d := r[3] - v0*l0 - v1*l1 - v2*l2
			ok = ok && d > 0
			*r = [4]float64{l0, l1, l2, 1 / d}
		}
	}
	return ok
}

// solve solves with the three factors for the three parts of x.
func (s strips) solve(x []geom.Vec3) {
	x = x[:len(s)]
	var x1, x2, x3 geom.Vec3
	for i := range s {
		r, v := &s[i], x[i]
		v = geom.Vec3{
			X: v.X - r[0][0]*x3.X - r[0][1]*x2.X - r[0][2]*x1.X,
			Y: v.Y - r[1][0]*x3.Y - r[1][1]*x2.Y - r[1][2]*x1.Y,
			Z: v.Z - r[2][0]*x3.Z - r[2][1]*x2.Z - r[2][2]*x1.Z,
		}
		x[i] = v
		x3, x2, x1 = x2, x1, v
	}
	var s1, s2, s3 geom.Vec3 // as in strip.back
	for i := len(x) - 1; i >= 0; i-- {
		r := &s[i]
		v := geom.Vec3{X: x[i].X*r[0][3] - s1.X, Y: x[i].Y*r[1][3] - s1.Y, Z: x[i].Z*r[2][3] - s1.Z}
		x[i] = v
		s1 = geom.Vec3{X: s2.X + v.X*r[0][2], Y: s2.Y + v.Y*r[1][2], Z: s2.Z + v.Z*r[2][2]}
		s2 = geom.Vec3{X: s3.X + v.X*r[0][1], Y: s3.Y + v.Y*r[1][1], Z: s3.Z + v.Z*r[2][1]}
		s3 = geom.Vec3{X: v.X * r[0][0], Y: v.Y * r[1][0], Z: v.Z * r[2][0]}
	}
}
