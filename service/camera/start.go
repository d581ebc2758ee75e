package camera

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/geom"
)

// frameSize is what the starts need to know of the image.
type frameSize struct {
	cx, cy float64
	side   float64 // the longer side, pixels
}

// spread describes how world points lie: their mean and principal axes with
// root-mean-square extents, largest first.
type spread struct {
	mean geom.Vec3
	axes geom.Mat3 // rows
	rms  [3]float64
}

func spreadOf(s []sighting) spread {
	var sp spread
	for i := range s {
		sp.mean = sp.mean.Add(s[i].world.Scale(1 / float64(len(s))))
	}
	c := mat.NewSymDense(3, nil)
	for i := range s {
		d := s[i].world.Sub(sp.mean)
		c.SymRankOne(c, 1/float64(len(s)), mat.NewVecDense(3, []float64{d.X, d.Y, d.Z}))
	}
	var e mat.EigenSym
	e.Factorize(c, true)
	values := e.Values(nil)
	var v mat.Dense
	e.VectorsTo(&v)
	axis := func(k int) geom.Vec3 { return geom.Vec3{X: v.At(0, k), Y: v.At(1, k), Z: v.At(2, k)} }
	a, b := axis(2), axis(1)
	sp.axes = geom.Rows(a, b, a.Cross(b))
	for k := range 3 {
		sp.rms[k] = math.Sqrt(max(0, values[2-k]))
	}
	return sp
}

// flatness is the extent, metres, under which points count as on a line or in a plane.
const flatness = 1e-3

// starts returns poses from which to refine, the most promising first: the algebraic
// ones, then for each focal length the best of level cameras all round.
func starts(s []sighting, f frameSize, focals []float64, sd float64, b prior, each int) []Pose {
	sp := spreadOf(s)
	var algebraic []Pose
	if sp.rms[2] < flatness {
		algebraic = planarStarts(s, f, focals)
	} else {
		if ground := onGround(s); len(ground) >= 4 {
			algebraic = planarStarts(ground, f, focals)
		}
		if p, ok := dltStart(s, f); ok {
			algebraic = append(algebraic, p)
		}
	}
	exact := keeper{n: each}
	for i := range algebraic {
		exact.offer(&algebraic[i], cost(&algebraic[i], s, sd, b))
	}
	list := exact.poses
	for _, focal := range focals {
		around := keeper{n: each/2 + 1}
		aroundStarts(s, sp.mean, f, focal, func(p *Pose) { around.offer(p, cost(p, s, sd, b)) })
		list = append(list, around.poses...)
	}
	return list
}

// keeper keeps the n poses of least cost, in order.
type keeper struct {
	n     int
	poses []Pose
	costs []float64
}

func (k *keeper) offer(p *Pose, c float64) {
	if math.IsInf(c, 1) || math.IsNaN(c) || len(k.costs) == k.n && c >= k.costs[k.n-1] {
		return
	}
	at, _ := slices.BinarySearch(k.costs, c)
	k.costs, k.poses = slices.Insert(k.costs, at, c), slices.Insert(k.poses, at, *p)
	k.costs, k.poses = k.costs[:min(k.n, len(k.costs))], k.poses[:min(k.n, len(k.poses))]
}

func onGround(s []sighting) []sighting {
	var g []sighting
	for _, v := range s {
		if v.world.Y == 0 {
			g = append(g, v)
		}
	}
	return g
}

// planarStarts decomposes the homography of coplanar points for each focal
// length, and for those that the homography itself tells (Zhang 2000, IEEE
// PAMI 22:1330, §3.1: both columns of K⁻¹H are orthogonal and equally long).
func planarStarts(s []sighting, f frameSize, focals []float64) []Pose {
	sp := spreadOf(s)
	if sp.rms[1] < flatness {
		return nil
	}
	h, ok := homography(s, sp, f)
	if !ok {
		return nil
	}
	if len(focals) > 1 {
		focals = append(slices.Clone(focals), focalsOf(h, f.side)...)
	}
	var out []Pose
	for _, focal := range focals {
		if p, ok := fromHomography(h, sp, f, focal); ok {
			out = append(out, p)
		}
	}
	return out
}

// homography maps plane coordinates (metres along the first two axes of the
// spread, divided by its extent) to pixels from the centre over the image's side.
func homography(s []sighting, sp spread, f frameSize) (geom.Mat3, bool) {
	a := mat.NewDense(2*len(s), 9, nil)
	for i := range s {
		d := s[i].world.Sub(sp.mean)
		x, y := d.Dot(sp.axes.Row(0))/sp.rms[0], d.Dot(sp.axes.Row(1))/sp.rms[0]
		u, v := (s[i].x-f.cx)/f.side, (s[i].y-f.cy)/f.side
		a.SetRow(2*i, []float64{x, y, 1, 0, 0, 0, -u * x, -u * y, -u})
		a.SetRow(2*i+1, []float64{0, 0, 0, x, y, 1, -v * x, -v * y, -v})
	}
	n, ok := nullVector(a)
	if !ok {
		return geom.Mat3{}, false
	}
	return geom.Mat3(n), true
}

// nullVector returns the right singular vector of the least singular value;
// false when the second least is as good as zero too.
func nullVector(a *mat.Dense) ([]float64, bool) {
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDFullV) {
		return nil, false
	}
	var v mat.Dense
	svd.VTo(&v)
	_, cols := a.Dims()
	values := svd.Values(nil)
	if len(values) < cols-1 || !(values[cols-2] > 1e-9*values[0]) {
		return nil, false
	}
	return mat.Col(nil, cols-1, &v), true
}

// focalsOf returns the plausible focal lengths, pixels, that make the first two
// columns of a homography orthogonal or equally long.
func focalsOf(h geom.Mat3, side float64) []float64 {
	a, b := h.T().Row(0), h.T().Row(1)
	squares := []float64{
		-(a.X*b.X + a.Y*b.Y) / (a.Z * b.Z),
		-(a.X*a.X + a.Y*a.Y - b.X*b.X - b.Y*b.Y) / (a.Z*a.Z - b.Z*b.Z),
	}
	var out []float64
	for _, q := range squares {
		if f := math.Sqrt(q); f > 0.3 && f < 6 {
			out = append(out, f*side)
		}
	}
	return out
}

func fromHomography(h geom.Mat3, sp spread, f frameSize, focal float64) (Pose, bool) {
	k := f.side / focal
	cols := h.T()
	toCamera := func(v geom.Vec3) geom.Vec3 { return geom.Vec3{X: v.X * k, Y: v.Y * k, Z: v.Z} }
	a, b, t := toCamera(cols.Row(0)), toCamera(cols.Row(1)), toCamera(cols.Row(2))
	scale := 2 * sp.rms[0] / (a.Norm() + b.Norm())
	if t.Z < 0 {
		scale = -scale
	}
	t = t.Scale(scale)
	a, b = nearestPair(a.Scale(scale), b.Scale(scale))
	r := geom.Rows(a, b, a.Cross(b)).T().Mul(sp.axes)
	p := Pose{R: r, T: t.Sub(r.Apply(sp.mean)), Focal: focal, CX: f.cx, CY: f.cy}
	return p, p.T.Finite() && math.Abs(a.Dot(a)-1) < 1e-6
}

// nearestPair returns two orthogonal unit vectors in the plane of a and b, each
// turned equally far from its own.
func nearestPair(a, b geom.Vec3) (geom.Vec3, geom.Vec3) {
	a, b = a.Unit(), b.Unit()
	sum, diff := a.Add(b).Unit(), a.Sub(b).Unit()
	return sum.Add(diff).Scale(math.Sqrt2 / 2), sum.Sub(diff).Scale(math.Sqrt2 / 2)
}

// aroundStarts places level cameras round the marks, turned so that the middle
// of the marks falls on the middle of their pixels.
func aroundStarts(s []sighting, mean geom.Vec3, f frameSize, focal float64, offer func(*Pose)) {
	var u, v float64
	for i := range s {
		u += (s[i].x - f.cx) / float64(len(s))
		v += (s[i].y - f.cy) / float64(len(s))
	}
	ray := geom.Vec3{X: u / focal, Y: v / focal, Z: 1}.Unit()
	for _, distance := range []float64{4, 8, 14, 24, 38} {
		for _, height := range []float64{0.8, 2, 5} {
			for k := range 16 {
				sin, cos := math.Sincos(float64(k) * math.Pi / 8)
				c := geom.Vec3{X: mean.X + distance*cos, Y: height, Z: mean.Z + distance*sin}
				p := aimed(c, mean, ray, focal, f)
				offer(&p)
			}
		}
	}
}

// aimed returns the camera at c that sees target along the unit ray, without roll
// when the ray is the optical axis.
func aimed(c, target, ray geom.Vec3, focal float64, f frameSize) Pose {
	r := levelToward(target.Sub(c))
	axis := geom.Vec3{Z: 1}.Cross(ray)
	turn := geom.RotationAbout(axis.Unit(), geom.Angle(math.Atan2(axis.Norm(), ray.Z)))
	r = turn.Mul(r)
	return Pose{R: r, T: r.Apply(c).Scale(-1), Focal: focal, CX: f.cx, CY: f.cy}
}

// levelToward returns the rotation from court axes to those of a camera that
// looks along d with its x axis level.
func levelToward(d geom.Vec3) geom.Mat3 {
	z := d.Unit()
	x := z.Cross(geom.Vec3{Y: 1}).Unit()
	return geom.Rows(x, z.Cross(x), z)
}
