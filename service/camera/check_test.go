package camera

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// TestSolveStandsAnything: random marks, sizes and focal lengths end in a pose or an error.
func TestSolveStandsAnything(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	for range 60 {
		w, h := uint32(1920), uint32(1080)
		if r.IntN(3) == 0 {
			w, h = r.Uint32(), r.Uint32()
		}
		if r.IntN(4) == 0 {
			w = uint32(r.IntN(100))
		}
		c := Camera{Width: w, Height: h, Focal: []float64{0, math.NaN(), 1e300, 1e-300, 1500}[r.IntN(5)]}
		for k := range 4 + r.IntN(19) {
			c.Marks = append(c.Marks, MarkedPoint{Mark(k + 1), float64(r.IntN(30720)) / 16, float64(r.IntN(17280)) / 16})
		}
		if p, err := Solve(c); err == nil && !(p.T.Finite() && p.Focal > 0) {
			t.Fatalf("%+v of %+v", p, c)
		}
	}
}

// TestCheck looks at a phone with marks, one without, and none at all.
func TestCheck(t *testing.T) {
	r := rand.New(rand.NewPCG(51, 1))
	s := randomSwinger(r)
	s.at, s.heading = geom.Vec3{X: -1}, 0
	p := aim(geom.Vec3{X: -9, Y: 2.5, Z: 0.5}, geom.Vec3{X: 0, Y: 1}, 0.01, 1400, 0, 1920, 1080)
	frames := s.film(&p, 0, 0, 2, 60, 0, 2, r)
	withWorld(frames, s, &p, r)
	cam := Camera{Width: 1920, Height: 1080, Marks: seenMarks(&p, r, 1)}
	got := Check(cam, frames, 1.8)
	if !got.OnCourt || !got.HasPose || got.View != ViewBehind || got.MarksErr != nil {
		t.Errorf("marked: %+v", got)
	}
	near(t, "rate", got.Rate, 60, 1)
	near(t, "noise", got.Noise, 2, 0.4)
	near(t, "lost", got.Lost, 0.05, 0.03)
	near(t, "place", got.Pose.Center().Sub(p.Center()).Norm(), 0, 0.3)

	cam.Marks = nil
	got = Check(cam, frames, 1.8)
	if got.OnCourt || !got.HasPose || got.View != ViewBehind || len(got.Location.Hips) == 0 {
		t.Errorf("unmarked: %+v", got)
	}
	cam.Marks = []MarkedPoint{{1, 5, 5}}
	if got = Check(cam, frames, 1.8); got.MarksErr == nil || got.MarksErr.Fault != FaultTooFew || !got.HasPose {
		t.Errorf("one mark: %+v", got.MarksErr)
	}
	if got = Check(Camera{}, nil, 0); got.HasPose || got.Rate != 0 || got.View != ViewUnknown || got.Clock.Factor != 1 {
		t.Errorf("nothing: %+v", got)
	}
}

// TestViews: a pose names the side from which it looks.
func TestViews(t *testing.T) {
	for _, c := range []struct {
		from geom.Vec3
		want Viewpoint
	}{
		{geom.Vec3{X: -8, Y: 2}, ViewBehind}, {geom.Vec3{X: 8, Y: 2}, ViewFront},
		{geom.Vec3{Y: 2, Z: 8}, ViewRight}, {geom.Vec3{Y: 2, Z: -8}, ViewLeft},
	} {
		p := aim(c.from, geom.Vec3{Y: 1}, 0, 1500, 0, 1920, 1080)
		if got := p.View(); got != c.want {
			t.Errorf("from %v: %d, want %d", c.from, got, c.want)
		}
		var s swinger
		s.stature, s.contact, s.speed = 1.8, 9, 20 // long before the stroke
		f := s.film(&p, 0, 0, 0.5, 60, 0, 1, rand.New(rand.NewPCG(1, 1)))
		if got := FacingOf(f).View; got != c.want && c.want != ViewRight && c.want != ViewLeft {
			t.Errorf("frames from %v: %d, want %d", c.from, got, c.want)
		}
	}
	if v := FacingOf(nil).View; v != ViewUnknown {
		t.Errorf("no frames: %d", v)
	}
}

// TestExpectedError compares the propagated error with drawn poses and noise.
func TestExpectedError(t *testing.T) {
	r := rand.New(rand.NewPCG(61, 1))
	truth, told, ok := markedPair(r)
	for !ok {
		truth, told, ok = markedPair(r)
	}
	at := geom.Vec3{X: 0.3, Y: 1.1, Z: -0.2}
	sigma := []float64{1.5, 1.5}
	e, ok := ExpectedError(told[:], sigma, at, 0)
	if !ok {
		t.Fatal("open")
	}
	var px []Pixel
	for i := range told {
		x, y, _ := told[i].Project(at)
		px = append(px, Pixel{x, y})
	}
	const n = 400
	var sum float64
	for range n {
		var drawn []Pose
		var seen []Pixel
		for i := range told {
			var z Params
			for k := range z {
				z[k] = r.NormFloat64()
			}
			drawn = append(drawn, told[i].Draw(z))
			seen = append(seen, Pixel{px[i].X + 1.5*r.NormFloat64(), px[i].Y + 1.5*r.NormFloat64()})
		}
		w, _, err := Triangulate(drawn, seen, sigma)
		if err != nil {
			t.Fatal(err)
		}
		d := w.Sub(at)
		sum += d.Dot(d) / n
	}
	want := e.Noise[0] + e.Noise[4] + e.Noise[8] + e.Pose[0] + e.Pose[4] + e.Pose[8]
	near(t, "spread over expected", math.Sqrt(sum/want), 1, 0.12)
	if _, ok := ExpectedError(told[:1], sigma[:1], at, 0); ok {
		t.Error("one camera without a depth is not open")
	}
	one, ok := ExpectedError(told[:1], sigma[:1], at, 0.1)
	if !ok {
		t.Fatal("one camera with a depth is open")
	}
	d := at.Sub(told[0].Center()).Unit()
	near(t, "depth", math.Sqrt(d.Dot(one.Noise.Apply(d))), 0.1, 0.01)
	_ = truth
}

// TestFacingIgnoresBadPoints: a body seen in part does no harm.
func TestFacingIgnoresBadPoints(t *testing.T) {
	f := body.Frame{}
	f.Image[body.LeftShoulder] = body.Seen2{X: float32(math.NaN()), Score: 1}
	f.Image[body.RightShoulder] = body.Seen2{X: 1, Score: 1}
	f.Image[body.Nose] = body.Seen2{X: 1, Score: 1}
	if got := FacingOf([]body.Frame{f}); got.Frames != 0 {
		t.Errorf("%+v", got)
	}
}
