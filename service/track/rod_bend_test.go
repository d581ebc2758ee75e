package track

import (
	"math"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestRodHoldsTiltsBySecondOrder compares the information on a tilt of a whole rod that lies
// across one camera's view, and looks longer than it is, with the curvature of its misfit,
// which knows nothing of linearising: of tilts towards the camera, of which first order says
// nothing, of tilts across, and of tilts between the two.
func TestRodHoldsTiltsBySecondOrder(t *testing.T) {
	eye := denseEye(geom.Vec3{X: 8, Y: 1.2})
	g := newGrid(solveSteps, 0, 0.8, 1.1)
	grip, axis := make([]geom.Vec3, len(g.t)), make([]geom.Vec3, len(g.t))
	for i := range grip {
		grip[i], axis[i] = geom.Vec3{Y: 1}, geom.Vec3{Y: 0.1, Z: 1}.Unit()
	}
	var sights []rodSight
	for at := g.t[0] + 0.002; at < g.t[len(g.t)-1]; at += 1.0 / 60 {
		for _, along := range []float64{0.585, 0.25, -0.1} {
			x, y, _ := eye.Project(grip[0].Add(axis[0].Scale(1.05 * along)))
			sights = append(sights, rodSight{sight{kind: image, t: at, eye: &eye, p: geom.Vec3{X: x, Y: y}, sd: 2, w: 1}, along})
		}
	}
	r := newRod(nil, g, grip, axis)
	r.look(sights)
	if !r.alone {
		t.Fatal("one camera's image is not all that shows the rod")
	}

	// chi2 is the misfit of the rod turned by an angle about the grip towards dir.
	chi2 := func(dir geom.Vec3, angle float64) (sum float64) {
		u := axis[0].Scale(math.Cos(angle)).Add(dir.Scale(math.Sin(angle)))
		for i := range sights {
			sum += sights[i].chi2(grip[0].Add(u.Scale(sights[i].along)))
		}
		return sum
	}
	// held is what the rod's solve says of the same, xᵀ·A·x.
	r.layBand(r.fac)
	r.addGlances(make([]float64, len(g.t)*rodDims), false)
	held := func(dir geom.Vec3) (sum float64) {
		tilt := func(n int) [rodDims]float64 { return [rodDims]float64{3: dir.Dot(r.e1[n]), 4: dir.Dot(r.e2[n])} }
		for p := range g.t {
			row, first := r.fac.blocks.row(p)
			for k := range row {
				xp, xq := tilt(p), tilt(first+k)
				for i := range rodDims {
					for j := range rodDims {
						switch v := xp[i] * row[k][i][j] * xq[j]; {
						case first+k < p:
							sum += 2 * v // and its mirror image above the diagonal
						case j < i:
							sum += 2 * v // above the diagonal a block is not read
						case j == i:
							sum += v
						}
					}
				}
			}
		}
		return sum
	}

	near := eye.Forward().Scale(-1)
	near = near.Sub(axis[0].Scale(near.Dot(axis[0]))).Unit()
	side := axis[0].Cross(near)
	const step = 0.01
	for _, c := range []struct {
		name string
		dir  geom.Vec3
		off  float64 // of the curvature: what perspective adds to it is left out
	}{
		{"towards the camera", near, 0.03},
		{"across", side, 0.01},
		{"between", near.Add(side).Unit(), 0.01},
		{"between, the other way", near.Sub(side).Unit(), 0.01},
	} {
		want := (chi2(c.dir, step) - 2*chi2(c.dir, 0) + chi2(c.dir, -step)) / (2 * step * step)
		got := held(c.dir)
		t.Logf("%s: %.0f, curvature %.0f per rad²", c.name, got, want)
		if math.Abs(got-want) > c.off*want {
			t.Errorf("a tilt %s is held by %.0f per rad², its misfit curves by %.0f", c.name, got, want)
		}
	}
}
