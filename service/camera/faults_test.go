package camera

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// goodCamera sees the whole near half from behind.
func goodCamera() (Pose, Camera) {
	p := aim(geom.Vec3{X: -8, Y: 3, Z: 1}, geom.Vec3{X: 4}, 0.01, 1500, 0, 1920, 1080)
	return p, Camera{Width: 1920, Height: 1080, Marks: seenMarks(&p, rand.New(rand.NewPCG(1, 2)), 0)}
}

func TestMarksErrors(t *testing.T) {
	_, good := goodCamera()
	change := func(f func(*Camera)) Camera {
		c := good
		c.Marks = append([]MarkedPoint{}, good.Marks...)
		f(&c)
		return c
	}
	for _, c := range []struct {
		name string
		cam  Camera
		want Fault
	}{
		{"no size", change(func(c *Camera) { c.Width = 0 }), FaultNoSize},
		{"no marks", change(func(c *Camera) { c.Marks = nil }), FaultTooFew},
		{"three marks", change(func(c *Camera) { c.Marks = c.Marks[:3] }), FaultTooFew},
		{"one mark four times", change(func(c *Camera) {
			m := c.Marks[0]
			c.Marks = []MarkedPoint{m, m, m, m}
		}), FaultTooFew},
		{"a mark at two places", change(func(c *Camera) {
			m := c.Marks[0]
			m.X += 50
			c.Marks = append(c.Marks, m)
		}), FaultRepeated},
		{"too many", change(func(c *Camera) { c.Marks = make([]MarkedPoint, 1_000_000) }), FaultRepeated},
		{"mark 0", change(func(c *Camera) { c.Marks[2].Mark = 0 }), FaultUnknownMark},
		{"mark 99", change(func(c *Camera) { c.Marks[2].Mark = 99 }), FaultUnknownMark},
		{"no number", change(func(c *Camera) { c.Marks[2].X = math.NaN() }), FaultNotFinite},
		{"infinite", change(func(c *Camera) { c.Marks[2].Y = math.Inf(-1) }), FaultNotFinite},
		{"far outside", change(func(c *Camera) { c.Marks[2].X = 1e6 }), FaultNotFinite},
		{"baseline only", change(func(c *Camera) {
			c.Marks = []MarkedPoint{{1, 100, 500}, {2, 300, 500}, {3, 900, 500}, {4, 1500, 500}, {5, 1800, 500}}
		}), FaultCollinear},
		{"sides swapped", change(func(c *Camera) {
			for i := range c.Marks {
				c.Marks[i].X = 1920 - c.Marks[i].X
			}
		}), FaultContradictory},
		{"at random", change(func(c *Camera) {
			r := rand.New(rand.NewPCG(5, 5))
			for i := range c.Marks {
				c.Marks[i].X, c.Marks[i].Y = 1920*r.Float64(), 1080*r.Float64()
			}
		}), FaultContradictory},
		{"all at one pixel", change(func(c *Camera) {
			for i := range c.Marks {
				c.Marks[i].X, c.Marks[i].Y = 960, 540
			}
		}), FaultContradictory},
	} {
		_, err := Solve(c.cam)
		var e *MarksError
		if !errors.As(err, &e) || e.Fault != c.want {
			t.Errorf("%s: %v, want fault %d", c.name, err, c.want)
			continue
		}
		want := "setup.cameras[2].court_marks"
		if c.want == FaultNoSize {
			want = "setup.cameras[2].width_px"
		}
		if e.Field(2) != want || e.Error() == "" {
			t.Errorf("%s: field %q, text %q", c.name, e.Field(2), e.Error())
		}
	}
}

// TestFocalDenied: a focal length that the marks rule out is not believed.
func TestFocalDenied(t *testing.T) {
	truth, cam := goodCamera()
	cam.Focal = 3000
	p, err := Solve(cam)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "focal", p.Focal, truth.Focal, 10)
	if !p.FocalDenied {
		t.Error("the focal length was believed")
	}
}

// TestSinglesSticks: marks of a net on singles sticks are recognised as such.
func TestSinglesSticks(t *testing.T) {
	truth := aim(geom.Vec3{X: -6, Y: 3, Z: 1}, geom.Vec3{X: 8}, 0, 1300, 0, 1920, 1080)
	cam := Camera{Width: 1920, Height: 1080}
	for _, m := range []Mark{2, 4, 6, 7, 8, 9, 10, 12, 13, 14} {
		w, _ := m.point(NetOnSticks)
		if x, y, ok := truth.Project(w); ok {
			cam.Marks = append(cam.Marks, MarkedPoint{m, x, y})
		}
	}
	p, err := Solve(cam)
	if err != nil {
		t.Fatal(err)
	}
	if p.Net != NetOnSticks {
		t.Error("the net is taken to be on its posts")
	}
	near(t, "place", p.Center().Sub(truth.Center()).Norm(), 0, 0.01)
}

// TestNetPlane: the six marks of the net lie in an upright plane.
func TestNetPlane(t *testing.T) {
	truth := aim(geom.Vec3{X: 2, Y: 2, Z: 3}, geom.Vec3{X: 11.9, Y: 0.5}, 0.01, 1300, 0, 1920, 1080)
	cam := Camera{Width: 1920, Height: 1080, Focal: 1300}
	for m := Mark(9); m <= 14; m++ {
		w, _ := m.Point()
		x, y, _ := truth.Project(w)
		cam.Marks = append(cam.Marks, MarkedPoint{m, x, y})
	}
	p, err := Solve(cam)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "place", p.Center().Sub(truth.Center()).Norm(), 0, 0.02)
}

// TestMirrorCourt: swapping left and right of marks and image mirrors the camera.
func TestMirrorCourt(t *testing.T) {
	_, cam := goodCamera()
	p, err := Solve(cam)
	if err != nil {
		t.Fatal(err)
	}
	twin := map[Mark]Mark{}
	for a := Mark(1); a <= NumMarks; a++ {
		for b := Mark(1); b <= NumMarks; b++ {
			if pa, _ := a.Point(); markPoints[b] == pa.MirrorZ() {
				twin[a] = b
			}
		}
	}
	m := cam
	m.Marks = nil
	for _, k := range cam.Marks {
		m.Marks = append(m.Marks, MarkedPoint{twin[k.Mark], 1920 - k.X, k.Y})
	}
	q, err := Solve(m)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mirrored place", q.Center().Sub(p.Center().MirrorZ()).Norm(), 0, 1e-3)
}

// TestRayRoundTrip: a point on a pixel's ray projects to the pixel.
func TestRayRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(8, 8))
	for range 200 {
		p := twoViews(r)[0]
		p.K1 = 0.2 * (r.Float64() - 0.5)
		x, y := 1920*r.Float64(), 1080*r.Float64()
		o, d := p.Ray(x, y)
		gx, gy, ok := p.Project(o.Add(d.Scale(3 + 5*r.Float64())))
		if !ok {
			continue // beyond the fold of the distortion
		}
		near(t, "x", gx, x, 1e-6)
		near(t, "y", gy, y, 1e-6)
	}
}

// TestJacobians compares with differences.
func TestJacobians(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	p := twoViews(r)[0]
	p.K1 = 0.07
	w := geom.Vec3{X: 0.3, Y: 1.2, Z: -0.4}
	const h = 1e-6
	jx, jy := p.Jacobian(w)
	for k, e := range []geom.Vec3{{X: h}, {Y: h}, {Z: h}} {
		x1, y1, _ := p.Project(w.Add(e))
		x0, y0, _ := p.Project(w.Sub(e))
		near(t, "dx", []float64{jx.X, jx.Y, jx.Z}[k], (x1-x0)/(2*h), 1e-4)
		near(t, "dy", []float64{jy.X, jy.Y, jy.Z}[k], (y1-y0)/(2*h), 1e-4)
	}
	x, y, _ := p.Project(w)
	lx, ly, dx, dy, ok := p.Look(w)
	if !ok {
		t.Error("Look sees nothing")
	}
	near(t, "Look x", lx, x, 1e-9)
	near(t, "Look y", ly, y, 1e-9)
	near(t, "Look dx", dx.Sub(jx).Norm(), 0, 1e-9)
	near(t, "Look dy", dy.Sub(jy).Norm(), 0, 1e-9)
	px, py := p.ParamJacobian(w)
	for k := range px {
		var d Params
		d[k] = h
		a := p.Moved(d)
		d[k] = -h
		b := p.Moved(d)
		x1, y1, _ := a.Project(w)
		x0, y0, _ := b.Project(w)
		near(t, "param dx", px[k], (x1-x0)/(2*h), 1e-3)
		near(t, "param dy", py[k], (y1-y0)/(2*h), 1e-3)
	}
}

// TestScaledOrthography: a limb of 0.30 m seen as 0.24 m differs by 0.18 m in depth, 36.87°
// out of the image plane, either way (Taylor 2000; literature.md G48). A camera far away
// with a long lens is such a projection.
func TestScaledOrthography(t *testing.T) {
	far := Pose{R: geom.Identity3, T: geom.Vec3{Z: 1e5}, Focal: 1e8}
	for _, s := range []float64{1, -1} {
		limb := geom.Vec3{X: 0.24, Z: 0.18 * s}
		near(t, "length", limb.Norm(), 0.30, 1e-12)
		x, _, _ := far.Project(limb)
		scale := far.Focal / far.T.Z
		near(t, "seen", x/scale, 0.24, 1e-5)
		depth, angle, ok := Foreshortening(0.30, x/scale)
		if !ok {
			t.Fatal("no depth")
		}
		near(t, "depth", depth, 0.18, 1e-5)
		near(t, "angle", angle.Degrees(), 36.87, 0.005)
	}
	if _, _, ok := Foreshortening(0.30, 0.31); ok {
		t.Error("a limb seen longer than it is has a depth")
	}
}

// FuzzSolve: whatever a client sends, Solve returns a finite pose or a *MarksError.
func FuzzSolve(f *testing.F) {
	_, good := goodCamera()
	f.Add(packMarks(good), uint32(1920), uint32(1080), 0.0)
	f.Add(packMarks(good), uint32(1), uint32(1), 1e300)
	f.Add([]byte{1, 0, 0, 0, 0}, uint32(1<<31), uint32(7), math.NaN())
	f.Fuzz(func(t *testing.T, marks []byte, w, h uint32, focal float64) {
		cam := Camera{Width: w, Height: h, Focal: focal}
		for len(marks) >= 5 && len(cam.Marks) < 12 {
			x, y := binary.LittleEndian.Uint16(marks[1:]), binary.LittleEndian.Uint16(marks[3:])
			cam.Marks = append(cam.Marks, MarkedPoint{Mark(marks[0]), float64(x) / 16, float64(y) / 16})
			marks = marks[5:]
		}
		p, err := Solve(cam)
		var e *MarksError
		switch {
		case err != nil && !errors.As(err, &e):
			t.Fatalf("%T", err)
		case err == nil && !(p.T.Finite() && p.Focal > 0 && p.Center().Y > 0 && p.Cov[3][3] >= 0):
			t.Fatalf("%+v", p)
		}
	})
}

func packMarks(c Camera) []byte {
	var b []byte
	for _, m := range c.Marks {
		b = append(b, byte(m.Mark))
		b = binary.LittleEndian.AppendUint16(b, uint16(max(0, m.X)*16))
		b = binary.LittleEndian.AppendUint16(b, uint16(max(0, m.Y)*16))
	}
	return b
}

// FuzzFrames: the functions on frames stand whatever a client sends.
func FuzzFrames(f *testing.F) {
	f.Add(uint64(1), 50.0, 0.5)
	f.Add(uint64(2), math.NaN(), 1.0)
	f.Add(uint64(3), 1e38, 1.0)
	f.Fuzz(func(t *testing.T, seed uint64, size, seen float64) {
		r := rand.New(rand.NewPCG(seed, 1))
		frames := make([]body.Frame, 60)
		for i := range frames {
			frames[i].TimeUS = int64(i) * 16_667
			for k := range frames[i].Image {
				if r.Float64() < seen {
					g := func() float32 { return float32(size * r.NormFloat64()) }
					frames[i].Image[k] = body.Seen2{X: g(), Y: g(), Score: 1}
					frames[i].World[k] = body.Seen3{X: g(), Y: g(), Z: g(), Score: 1}
				}
			}
		}
		c := Check(Camera{}, frames, 1.8)
		if !(c.Clock.Factor > 0) || math.IsInf(c.Clock.Factor, 1) {
			t.Fatalf("%+v", c.Clock)
		}
		_, cam := goodCamera()
		p, err := Solve(cam)
		if err != nil {
			t.Fatal(err)
		}
		fit, err := ClockOffset([2]Pose{p, p}, [2][]body.Frame{frames, frames}, 0.3)
		if err == nil && !(math.Abs(fit.Offset) <= 1) {
			t.Fatalf("%+v", fit)
		}
	})
}
