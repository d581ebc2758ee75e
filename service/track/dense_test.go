package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// dense is the plain way to solve what the bands solve: every belief and every
// sight is one row of a tall matrix over its standard deviation, and a general
// QR factorisation finds the least squares.
type dense struct {
	unknowns int
	rows     []float64
	y        []float64
}

func (d *dense) row(weight, y float64, at map[int]float64) {
	r := make([]float64, d.unknowns)
	for i, c := range at {
		r[i] = c * math.Sqrt(weight)
	}
	d.rows = append(d.rows, r...)
	d.y = append(d.y, y*math.Sqrt(weight))
}

// loose is the weak prior on every unknown.
func (d *dense) loose() {
	for i := range d.unknowns {
		d.row(1e-6, 0, map[int]float64{i: 1})
	}
}

func (d *dense) solve(t testing.TB) []float64 {
	t.Helper()
	var x mat.VecDense
	if err := x.SolveVec(mat.NewDense(len(d.y), d.unknowns, d.rows), mat.NewVecDense(len(d.y), d.y)); err != nil {
		t.Fatal(err)
	}
	return x.RawVector().Data
}

// cubic returns the weights that read a value at t, and the third derivative,
// from four nodes: the solutions of the two Vandermonde systems.
func cubic(t testing.TB, x []float64, at float64) (value, third []float64) {
	t.Helper()
	v := mat.NewDense(4, 4, nil)
	rhs := mat.NewDense(4, 2, nil)
	for p := range 4 {
		for j := range 4 {
			v.Set(p, j, math.Pow(x[j]-at, float64(p)))
		}
	}
	rhs.Set(0, 0, 1)
	rhs.Set(3, 1, 6)
	var w mat.Dense
	if err := w.Solve(v, rhs); err != nil {
		t.Fatal(err)
	}
	return mat.Col(nil, 0, &w), mat.Col(nil, 1, &w)
}

// madePath holds sights of a point on a gentle course, by two cameras and by place.
func madePath(g *grid, wide bool) (s []sight, start []geom.Vec3) {
	rng := rand.New(rand.NewPCG(11, 5))
	place3 := func(t float64) geom.Vec3 {
		return geom.Vec3{X: math.Sin(3 * t), Y: 1 + 0.2*t, Z: 0.3 * math.Cos(2*t)}
	}
	eyes := []camera.Pose{denseEye(geom.Vec3{X: 8, Y: 1.5}), denseEye(geom.Vec3{X: 6, Y: 2, Z: 5})}
	for t := g.t[0] + 0.003; t < g.t[len(g.t)-1]; t += 0.0073 {
		at := place3(t)
		e := geom.Vec3{X: 0.01 * rng.NormFloat64(), Y: 0.01 * rng.NormFloat64(), Z: 0.01 * rng.NormFloat64()}
		if !wide || rng.Float64() < 0.3 {
			s = append(s, sight{kind: place, t: t, p: at.Add(e), sd: 0.01, w: 0.5 + rng.Float64()})
			continue
		}
		eye := &eyes[rng.IntN(2)]
		x, y, _ := eye.Project(at)
		s = append(s, sight{kind: image, t: t, eye: eye, p: geom.Vec3{X: x + 100*e.X, Y: y + 100*e.Y}, sd: 2, w: 0.5 + rng.Float64()})
	}
	for _, t := range g.t {
		start = append(start, place3(t).Add(geom.Vec3{X: 0.02, Z: -0.01}))
	}
	return s, start
}

// denseEye is a camera that looks at the middle of the made course.
func denseEye(from geom.Vec3) camera.Pose {
	f := geom.Vec3{Y: 1}.Sub(from).Unit()
	right := f.Cross(geom.Vec3{Y: 1}).Unit()
	down := f.Cross(right)
	r := geom.Mat3{right.X, right.Y, right.Z, down.X, down.Y, down.Z, f.X, f.Y, f.Z}
	p := camera.Pose{R: r, Focal: 1000}
	p.T = r.Apply(from).Scale(-1)
	return p
}

// denseSmooth is one step of smoothPoint, the plain way.
func denseSmooth(t testing.TB, g *grid, s []sight, r rough, start []geom.Vec3) []geom.Vec3 {
	d := dense{unknowns: 3 * len(g.t)}
	d.loose()
	for i := range g.inv {
		_, third := cubic(t, g.t[i:i+4], (g.t[i+1]+g.t[i+2])/2)
		for k := range 3 {
			at := map[int]float64{}
			for j, c := range third {
				at[3*(i+j)+k] = c
			}
			d.row(g.jerkWeight(i, &r, g.bell(r.width)), 0, at)
		}
	}
	for i := range s {
		first, _ := g.stencil(s[i].t)
		value, _ := cubic(t, g.t[first:first+4], s[i].t)
		ref := combine(start[first:first+4], [4]float64(value))
		for _, l := range s[i].lines(ref, nil) {
			at := map[int]float64{}
			for j, c := range value {
				at[3*(first+j)], at[3*(first+j)+1], at[3*(first+j)+2] = c*l.c.X, c*l.c.Y, c*l.c.Z
			}
			d.row(1/l.v, l.y, at)
		}
	}
	x := d.solve(t)
	out := make([]geom.Vec3, len(g.t))
	for i := range out {
		out[i] = geom.Vec3{X: x[3*i], Y: x[3*i+1], Z: x[3*i+2]}
	}
	return out
}

func TestPathsAreWhatPlainLeastSquaresFinds(t *testing.T) {
	g := newUniform(0.5, 0.008, 14, 10)
	for _, wide := range []bool{false, true} {
		r := rough{level: 2e4, width: 0.2, floor: 0.1, jump: 0.5}
		s, start := madePath(g, wide)
		p, ok := smoothPoint(g, s, r, 0, start)
		if !ok {
			t.Fatal("no path")
		}
		for i, want := range denseSmooth(t, g, s, r, start) {
			if d := p.mean[i].Sub(want).Norm(); !(d < 1e-8) {
				t.Errorf("wide %v, node %d: %.2g m apart, want 1e-8", wide, i, d)
			}
		}
	}
}

// madeRod is a racket seen by place, off its solution, and its sights.
func madeRod(g *grid) (*rod, []rodSight) {
	rng := rand.New(rand.NewPCG(3, 8))
	hold := func(t float64) (grip, axis geom.Vec3) {
		s, c := math.Sincos(2 * (t - g.t[0]))
		return geom.Vec3{X: 0.5 * t, Y: 1, Z: 0.1 * s}, geom.Vec3{X: s, Y: 0.3, Z: c}.Unit()
	}
	var grip, axis []geom.Vec3
	for _, t := range g.t {
		a, u := hold(t)
		grip = append(grip, a)
		axis = append(axis, u.Add(geom.Vec3{Y: 0.05}).Unit())
	}
	eye := denseEye(geom.Vec3{X: 7, Y: 1.8, Z: 2})
	var s []rodSight
	for _, along := range []float64{0.585, 0.25, -0.1} {
		for t := g.t[0] + 0.002; t < g.t[len(g.t)-1]; t += 0.0083 {
			a, u := hold(t)
			at := a.Add(u.Scale(along)).Add(geom.Vec3{X: 0.01 * rng.NormFloat64(), Y: 0.01 * rng.NormFloat64(), Z: 0.01 * rng.NormFloat64()})
			o := sight{kind: place, t: t, p: at, sd: 0.01, w: 0.5 + rng.Float64()}
			if x, y, ok := eye.Project(at); ok && along < 0.5 {
				o = sight{kind: image, t: t, eye: &eye, p: geom.Vec3{X: x, Y: y}, sd: 2, w: 0.7}
			}
			s = append(s, rodSight{o, along})
		}
	}
	return newRod(nil, g, grip, axis), inTime(s)
}

// denseRod is one step of the rod, the plain way: grips, and turns of the axis.
func denseRod(t testing.TB, r *rod, s []rodSight, hand, turn rough) []float64 {
	g := r.g
	d := dense{unknowns: rodDims * len(g.t)}
	d.loose()
	s1, s2 := r.s1, r.s2
	for i := range g.inv {
		_, third := cubic(t, g.t[i:i+4], (g.t[i+1]+g.t[i+2])/2)
		for k := range rodDims {
			at, y, weight := map[int]float64{}, 0.0, g.jerkWeight(i, &hand, g.bell(hand.width))
			for j, c := range third {
				at[rodDims*(i+j)+k] = c
				switch k {
				case 3:
					y, weight = y-c*s1[i+j], g.jerkWeight(i, &turn, g.bell(turn.width))
				case 4:
					y, weight = y-c*s2[i+j], g.jerkWeight(i, &turn, g.bell(turn.width))
				}
			}
			d.row(weight, y, at)
		}
	}
	for i := range s {
		first, _ := g.stencil(s[i].t)
		value, _ := cubic(t, g.t[first:first+4], s[i].t)
		var grip, axis geom.Vec3
		for j, c := range value {
			grip = grip.Add(r.grip[first+j].Scale(c))
			axis = axis.Add(r.axis[first+j].Scale(c))
		}
		axis = axis.Unit().Scale(s[i].along)
		for _, l := range s[i].lines(grip.Add(axis), nil) {
			at := map[int]float64{}
			for j, c := range value {
				k := rodDims * (first + j)
				at[k], at[k+1], at[k+2] = c*l.c.X, c*l.c.Y, c*l.c.Z
				at[k+3] = c * s[i].along * l.c.Dot(r.e1[first+j])
				at[k+4] = c * s[i].along * l.c.Dot(r.e2[first+j])
			}
			d.row(1/l.v, l.y-l.c.Dot(axis), at)
		}
	}
	return d.solve(t)
}

func TestARodsStepIsWhatPlainLeastSquaresFinds(t *testing.T) {
	g := newUniform(0.5, 0.008, 12, 9)
	hand, turn := handOf, rough{level: 1e4, width: 0.2, floor: 0.1, jump: 2}
	r, s := madeRod(g)
	x := denseRod(t, r, s, hand, turn)
	var axes []geom.Vec3
	for i := range g.t {
		axes = append(axes, turned(r.axis[i], r.e1[i], r.e2[i], x[rodDims*i+3], x[rodDims*i+4]))
	}
	if _, ok := r.improve(s, hand, turn); !ok {
		t.Fatal("no step")
	}
	for i := range g.t {
		want := geom.Vec3{X: x[rodDims*i], Y: x[rodDims*i+1], Z: x[rodDims*i+2]}
		if d := r.grip[i].Sub(want).Norm(); !(d < 1e-8) {
			t.Errorf("node %d: grips %.2g m apart, want 1e-8", i, d)
		}
		if d := r.axis[i].Sub(axes[i]).Norm(); !(d < 1e-8) {
			t.Errorf("node %d: axes %.2g apart, want 1e-8", i, d)
		}
	}
}

// BenchmarkPlainSolves sets the bands against the plain way, on the same small problems.
func BenchmarkPlainSolves(b *testing.B) {
	g := newUniform(0.5, 0.008, 38, 38)
	r := rough{level: 2e4, width: 0.2, floor: 0.1, jump: 0.5}
	s, start := madePath(g, false)
	b.Run("path/band", func(b *testing.B) {
		var p path
		for b.Loop() {
			p.lay(g, s)
			p.settle(r, 0)
		}
	})
	b.Run("path/plain", func(b *testing.B) {
		for b.Loop() {
			denseSmooth(b, g, s, r, start)
		}
	})
	hand, turn := handOf, rough{level: 1e4, width: 0.2, floor: 0.1, jump: 2}
	q, o := madeRod(g)
	from, _ := madeRod(g)
	b.Run("rod/band", func(b *testing.B) {
		for b.Loop() {
			q.setOut(from)
			q.improve(o, hand, turn)
		}
	})
	b.Run("rod/plain", func(b *testing.B) {
		for b.Loop() {
			denseRod(b, from, o, hand, turn)
		}
	})
}
