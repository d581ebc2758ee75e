package camera

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// withWorld gives frames the world points of a pose estimator: camera axes, origin
// at mid-hip, noise 25 mm across and 45 mm in depth.
func withWorld(frames []body.Frame, s swinger, p *Pose, r *rand.Rand) {
	for i := range frames {
		f := &frames[i]
		at := s.pose(float64(f.TimeUS) * 1e-6)
		hip := at[body.LeftHip].Lerp(at[body.RightHip], 0.5)
		for k := range body.NumBody {
			if at[k] == (geom.Vec3{}) || r.Float64() < 0.05 {
				continue
			}
			c := p.R.Apply(at[k].Sub(hip))
			f.World[k] = body.Seen3{X: float32(c.X + 0.025*r.NormFloat64()), Y: float32(c.Y + 0.025*r.NormFloat64()),
				Z: float32(c.Z + 0.045*r.NormFloat64()), Score: 0.9}
		}
	}
}

// phone is a camera at one of the four viewpoints ± 25°.
func phone(r *rand.Rand, s swinger) (Pose, Viewpoint) {
	view := Viewpoint(1 + r.IntN(4))
	az := map[Viewpoint]float64{ViewBehind: math.Pi, ViewFront: 0, ViewRight: math.Pi / 2, ViewLeft: -math.Pi / 2}[view]
	az += (2*r.Float64() - 1) * 25 * math.Pi / 180
	d := 4 + 6*r.Float64()
	c := s.at.Add(geom.Vec3{X: d * math.Cos(az), Y: 0.8 + 1.7*r.Float64(), Z: d * math.Sin(az)})
	target := s.at.Add(geom.Vec3{X: 0.3 * r.NormFloat64(), Y: 1, Z: 0.3 * r.NormFloat64()})
	return aim(c, target, 0.025*r.NormFloat64(), 1920*(0.65+0.6*r.Float64()), 0, 1920, 1080), view
}

// scores gathers squared z-scores.
type scores struct {
	sum  float64
	n    int
	wild int
}

func (s *scores) add(err, sd float64) {
	z := err / sd
	s.sum += min(z*z, 25)
	s.n++
	if math.Abs(z) > 4 {
		s.wild++
	}
}

func (s *scores) rms() float64 { return math.Sqrt(s.sum / float64(s.n)) }

func TestLocate(t *testing.T) {
	r := rand.New(rand.NewPCG(21, 1))
	var pitch, roll, across, depth, focal, height scores
	views := 0
	var upErr float64
	const n = 50
	for range n {
		s := randomSwinger(r)
		s.heading = 0
		p, view := phone(r, s)
		cam := Camera{Width: 1920, Height: 1080}
		frames := s.film(&p, 0, 0, 3, 60, 0, 2, r)
		withWorld(frames, s, &p, r)
		g := Upright(frames)
		loc, err := Locate(cam, frames, g, view)
		if err != nil {
			t.Fatal(err)
		}
		up := p.R.Apply(geom.Vec3{Y: 1})
		upErr += geom.Between(up, loc.Gravity.Up).Degrees() / n
		pitch.add(math.Atan2(loc.Gravity.Up.Z, -loc.Gravity.Up.Y)-math.Atan2(up.Z, -up.Y), float64(loc.Gravity.PitchSD))
		roll.add(math.Atan2(loc.Gravity.Up.X, -loc.Gravity.Up.Y)-math.Atan2(up.X, -up.Y), float64(loc.Gravity.RollSD))
		focal.add(math.Log(loc.Pose.Focal/p.Focal), math.Sqrt(loc.Pose.Cov[6][6]))
		for _, h := range loc.Hips {
			at := s.pose(h.Time)
			hip := p.InCamera(at[body.LeftHip].Lerp(at[body.RightHip], 0.5))
			across.add(h.InCamera.X-hip.X, h.SD.X)
			depth.add(h.InCamera.Z*p.Focal/loc.Pose.Focal-hip.Z, h.SD.Z)
		}
		// The hips' height over the ground, through the pose.
		h := loc.Hips[0]
		at := s.pose(h.Time)
		hip := at[body.LeftHip].Lerp(at[body.RightHip], 0.5)
		world := loc.Pose.R.T().Apply(h.InCamera.Sub(loc.Pose.T))
		height.add(world.Y-hip.Y, 0.05)
		if FacingOf(frames).View == view {
			views++
		}
	}
	for _, c := range []struct {
		name string
		s    *scores
		lo   float64
		hi   float64
	}{
		{"pitch", &pitch, 0.2, 1.3}, {"roll", &roll, 0.2, 1.3}, {"across", &across, 0.7, 1.3}, {"depth", &depth, 0.7, 1.4},
		{"focal", &focal, 0.3, 1.3}, {"hip height / 5 cm", &height, 0, 1.2},
	} {
		t.Logf("%s: rms z %.2f, wild %d of %d", c.name, c.s.rms(), c.s.wild, c.s.n)
		if z := c.s.rms(); z < c.lo || z > c.hi {
			t.Errorf("%s: rms z %.2f not in [%g, %g]", c.name, z, c.lo, c.hi)
		}
	}
	t.Logf("upright off by %.2f° on average; viewpoint right in %d of %d", upErr, views, n)
	if upErr > 3 || views < 43 {
		t.Error("upright or viewpoint too often wrong")
	}
}

func TestLocateByStature(t *testing.T) {
	r := rand.New(rand.NewPCG(22, 1))
	var pitch, depth, height scores
	for range 100 {
		s := randomSwinger(r)
		s.heading = 0
		p, view := phone(r, s)
		frames := s.film(&p, 0, 0, 3, 60, 0, 2, r)
		loc, err := LocateByStature(Camera{Width: 1920, Height: 1080}, frames, s.stature, view)
		if err != nil {
			t.Fatal(err)
		}
		up := p.R.Apply(geom.Vec3{Y: 1})
		pitch.add(math.Atan2(loc.Gravity.Up.Z, -loc.Gravity.Up.Y)-math.Atan2(up.Z, -up.Y), float64(loc.Gravity.PitchSD))
		hip := p.InCamera(s.at.Add(geom.Vec3{Y: 0.52 * s.stature}))
		sd := hip.Z * math.Sqrt(loc.Pose.Cov[6][6]+inPlaySD*inPlaySD)
		depth.add(loc.Hips[0].InCamera.Z-hip.Z, sd)
		world := loc.Pose.R.T().Apply(loc.Hips[0].InCamera.Sub(loc.Pose.T))
		height.add(world.Y-0.52*s.stature, 0.1)
	}
	for _, c := range []struct {
		name string
		s    *scores
	}{{"pitch", &pitch}, {"depth", &depth}, {"hip height / 10 cm", &height}} {
		t.Logf("%s: rms z %.2f, wild %d of %d", c.name, c.s.rms(), c.s.wild, c.s.n)
		if z := c.s.rms(); z > 1.3 {
			t.Errorf("%s: rms z %.2f", c.name, z)
		}
	}
	if _, err := LocateByStature(Camera{}, nil, 0, 0); err != ErrNoStature {
		t.Error(err)
	}
	if _, err := LocateByStature(Camera{}, nil, 1.8, 0); err != ErrNoBody {
		t.Error(err)
	}
	if _, err := Locate(Camera{}, nil, Upright(nil), 0); err != ErrNoBody {
		t.Error(err)
	}
}
