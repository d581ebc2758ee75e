package camera

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestPublishedDLT reconstructs the first control point of a published two-view
// example (literature.md §9, S41; G46): world millimetres, pixels.
func TestPublishedDLT(t *testing.T) {
	world := []geom.Vec3{{Z: 2550}, {}, {Y: 2632}, {X: 4500, Z: 2550}, {X: 5000}, {X: 5660, Y: 2620}}
	pixels := [2][6][2]float64{
		{{1810, 885}, {1353, 786}, {1362, 301}, {455, 1010}, {329, 832}, {183, 180}},
		{{1734, 952}, {1528, 768}, {1546, 135}, {115, 834}, {459, 719}, {358, 202}},
	}
	var views []dlt
	for _, px := range pixels {
		var s []sighting
		for i, w := range world {
			s = append(s, sighting{world: w, x: px[i][0], y: px[i][1]})
		}
		l, ok := fitDLT(s)
		if !ok {
			t.Fatal("no solution")
		}
		views = append(views, l)
	}
	p, ok := dltPoint(views, [][2]float64{pixels[0][0], pixels[1][0]})
	if !ok {
		t.Fatal("no point")
	}
	near(t, "X", p.X, -0.1317, 0.02)
	near(t, "Y", p.Y, 0.8715, 0.02)
	near(t, "Z", p.Z, 2549.7529, 0.02)
}

func twoViews(r *rand.Rand) []Pose {
	gap := (60 + 60*r.Float64()) * math.Pi / 180
	az := r.Float64() * 2 * math.Pi
	var out []Pose
	for _, a := range []float64{az, az + gap} {
		d := 6 + 5*r.Float64()
		c := geom.Vec3{X: d * math.Cos(a), Y: 1 + 2*r.Float64(), Z: d * math.Sin(a)}
		out = append(out, aim(c, geom.Vec3{Y: 1}, 0.02*r.NormFloat64(), 1300+800*r.Float64(), 0, 1920, 1080))
	}
	return out
}

func TestTriangulateCalibrated(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	var z2, chi float64
	const n = 400
	for range n {
		poses := twoViews(r)
		w := geom.Vec3{X: r.NormFloat64(), Y: 1 + 0.4*r.NormFloat64(), Z: r.NormFloat64()}
		sigma := []float64{1.5, 3}
		var px []Pixel
		for i := range poses {
			x, y, _ := poses[i].Project(w)
			px = append(px, Pixel{x + sigma[i]*r.NormFloat64(), y + sigma[i]*r.NormFloat64()})
		}
		got, cov, err := Triangulate(poses, px, sigma)
		if err != nil {
			t.Fatal(err)
		}
		inv, _ := invert3(cov)
		d := got.Sub(w)
		z2 += d.Dot(inv.Apply(d))
		chi += Misfit(poses, px, sigma, got)
	}
	// χ² with 3 and 1 degrees of freedom: sd of the means √(2·dof/n).
	near(t, "mean square z", z2/n, 3, 4*math.Sqrt(6.0/n))
	near(t, "mean misfit", chi/n, 1, 4*math.Sqrt(2.0/n))
}

func TestTriangulateErrors(t *testing.T) {
	r := rand.New(rand.NewPCG(6, 1))
	poses := twoViews(r)
	same := []Pose{poses[0], poses[0]}
	centre := []Pixel{{960, 540}, {960, 540}}
	for _, c := range []struct {
		name  string
		poses []Pose
		px    []Pixel
		want  error
	}{
		{"one view", poses[:1], centre[:1], ErrTooFewViews},
		{"same camera", same, centre, ErrParallel},
		{"no number", poses, []Pixel{{math.NaN(), 0}, {0, 0}}, ErrParallel},
	} {
		_, _, err := Triangulate(c.poses, c.px, []float64{1, 1}[:len(c.px)])
		if !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

func BenchmarkTriangulate(b *testing.B) {
	poses := twoViews(rand.New(rand.NewPCG(5, 1)))
	px, sigma := []Pixel{{950, 500}, {970, 520}}, []float64{1, 1}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Triangulate(poses, px, sigma); err != nil {
			b.Fatal(err)
		}
	}
}
