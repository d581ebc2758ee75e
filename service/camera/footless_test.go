package camera

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// TestLocateByStatureWithoutFeet cuts the legs off the picture: the trunk's length
// places the camera within a wider error.
func TestLocateByStatureWithoutFeet(t *testing.T) {
	r := rand.New(rand.NewPCG(22, 2))
	var depth, height scores
	for range 100 {
		s := randomSwinger(r)
		s.heading = 0
		p, view := phone(r, s)
		frames := s.film(&p, 0, 0, 3, 60, 0, 2, r)
		for i := range frames {
			for _, gone := range [...]body.Point{body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle, body.LeftHeel, body.RightHeel, body.LeftToe, body.RightToe} {
				frames[i].Image[gone] = body.Seen2{}
			}
		}
		loc, err := LocateByStature(Camera{Width: 1920, Height: 1080}, frames, s.stature, view)
		if err != nil {
			t.Fatal(err)
		}
		hip := p.InCamera(s.at.Add(geom.Vec3{Y: 0.52 * s.stature}))
		depth.add(loc.Hips[0].InCamera.Z-hip.Z, hip.Z*math.Sqrt(loc.Pose.Cov[6][6]+unseenSD*unseenSD))
		world := loc.Pose.R.T().Apply(loc.Hips[0].InCamera.Sub(loc.Pose.T))
		height.add(world.Y-0.52*s.stature, 0.15)
	}
	for _, c := range []struct {
		name string
		s    *scores
	}{{"depth", &depth}, {"hip height / 15 cm", &height}} {
		t.Logf("%s: rms z %.2f, wild %d of %d", c.name, c.s.rms(), c.s.wild, c.s.n)
		if z := c.s.rms(); z > 1.3 {
			t.Errorf("%s: rms z %.2f", c.name, z)
		}
	}
}
