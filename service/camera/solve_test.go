package camera

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/geom"
)

// shot is a true camera and what it was told.
type shot struct {
	pose Pose
	cam  Camera
}

// aim returns a camera at c looking at target with a little roll.
func aim(c, target geom.Vec3, roll, focal, k1 float64, w, h uint32) Pose {
	r := levelToward(target.Sub(c))
	r = geom.RotationAbout(geom.Vec3{Z: 1}, geom.Angle(roll)).Mul(r)
	return Pose{R: r, T: r.Apply(c).Scale(-1), Focal: focal, K1: k1, CX: float64(w) / 2, CY: float64(h) / 2}
}

// randomShot places a phone or camcorder about a player near the baseline and
// marks what falls into the image, with noise sd in pixels.
func randomShot(r *rand.Rand, sd float64) shot {
	az := r.Float64() * 2 * math.Pi
	d := 5 + 9*r.Float64()
	c := geom.Vec3{X: -0.5 + d*math.Cos(az), Y: 1 + 2.5*r.Float64(), Z: d * math.Sin(az)}
	target := geom.Vec3{X: r.NormFloat64(), Y: 1, Z: r.NormFloat64()}
	p := aim(c, target, 0.03*r.NormFloat64(), 1920*(0.62+0.6*r.Float64()), 0, 1920, 1080)
	return shot{p, Camera{Width: 1920, Height: 1080, Marks: seenMarks(&p, r, sd)}}
}

func seenMarks(p *Pose, r *rand.Rand, sd float64) []MarkedPoint {
	var out []MarkedPoint
	for m := Mark(1); m <= NumMarks; m++ {
		w, _ := m.Point()
		if x, y, ok := p.Project(w); ok && x > 0 && y > 0 && x < 2*p.CX && y < 2*p.CY {
			out = append(out, MarkedPoint{m, x + sd*r.NormFloat64(), y + sd*r.NormFloat64()})
		}
	}
	return out
}

// onOneLine tells whether a camera sees the baseline only.
func onOneLine(c Camera) bool {
	for _, m := range c.Marks {
		if m.Mark > 5 {
			return false
		}
	}
	return true
}

func TestSolveExact(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for n := 0; n < 60; {
		s := randomShot(r, 0)
		if len(s.cam.Marks) < 5 || onOneLine(s.cam) {
			continue
		}
		n++
		s.cam.Focal = s.pose.Focal
		p, err := Solve(s.cam)
		if err != nil {
			t.Fatal(n, len(s.cam.Marks), err)
		}
		near(t, "place", p.Center().Sub(s.pose.Center()).Norm(), 0, 1e-4)
		near(t, "focal", p.Focal, s.pose.Focal, 0.01)
	}
}

// TestSolveCalibrated checks that errors are as large as the covariance says.
func TestSolveCalibrated(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	var z2 [5]float64
	var fail, n, wild int
	for n < 200 {
		s := randomShot(r, 1)
		if len(s.cam.Marks) < 4 || onOneLine(s.cam) {
			continue
		}
		n++
		p, err := Solve(s.cam)
		if err != nil {
			fail++
			t.Logf("marks %v: %v", s.cam.Marks, err)
			continue
		}
		d := p.Center().Sub(s.pose.Center())
		c := p.CenterCov()
		zs := []float64{d.X / math.Sqrt(c[0]), d.Y / math.Sqrt(c[4]), d.Z / math.Sqrt(c[8]),
			math.Log(p.Focal/s.pose.Focal) / math.Sqrt(p.Cov[6][6])}
		// The pixel of a body point at the baseline.
		w := geom.Vec3{Y: 1}
		x, y, _ := p.Project(w)
		tx, ty, _ := s.pose.Project(w)
		zs = append(zs, math.Hypot(x-tx, y-ty)/math.Sqrt2/p.PixelSD(w))
		for k, z := range zs {
			z2[k] += min(z*z, 25)
			if math.Abs(z) > 5 {
				wild++
				t.Logf("z[%d] = %.1f with %d marks, d=%v focal %.0f/%.0f rms %.2f dropped %v", k, z, len(s.cam.Marks), d, p.Focal, s.pose.Focal, p.RMS, p.Dropped)
			}
		}
	}
	for k := range z2 {
		rms := math.Sqrt(z2[k] / float64(n-fail))
		t.Logf("z rms %d: %.2f", k, rms)
		near(t, "rms of z", rms, 1, 0.25)
	}
	if fail > 2 || wild > 4 {
		t.Errorf("%d of %d failed, %d wild", fail, n, wild)
	}
}

func TestSolveWrongMark(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	found, n, silent := 0, 0, 0
	for n < 100 {
		s := randomShot(r, 1)
		if len(s.cam.Marks) < 7 {
			continue
		}
		n++
		bad := r.IntN(len(s.cam.Marks))
		a := r.Float64() * 2 * math.Pi
		size := 30 + 300*r.Float64()
		s.cam.Marks[bad].X += size * math.Cos(a)
		s.cam.Marks[bad].Y += size * math.Sin(a)
		p, err := Solve(s.cam)
		if err != nil {
			var e *MarksError
			if !errors.As(err, &e) {
				t.Fatal(err)
			}
			continue
		}
		if len(p.Dropped) == 1 && p.Dropped[0] == s.cam.Marks[bad].Mark {
			found++
		} else {
			silent++
			t.Logf("%d marks, off by %.0f px: dropped %v of %d, rms %.1f", len(s.cam.Marks), size, p.Dropped, s.cam.Marks[bad].Mark, p.RMS)
		}
	}
	t.Logf("found %d, refused %d, silent %d", found, n-found-silent, silent)
	if found < 85 || silent > 5 {
		t.Errorf("found %d of %d, %d silent", found, n, silent)
	}
}

func BenchmarkSolve(b *testing.B) {
	_, cam := goodCamera()
	_, hard := goodCamera()
	for i := range hard.Marks {
		hard.Marks[i].X += float64((i*7919)%301 - 150)
		hard.Marks[i].Y += float64((i*104729)%301 - 150)
	}
	for _, c := range []struct {
		name string
		cam  Camera
	}{{"marks=good", cam}, {"marks=contradictory", hard}} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Solve(c.cam); (err != nil) != (c.name == "marks=contradictory") {
					b.Fatal(err)
				}
			}
		})
	}
}
