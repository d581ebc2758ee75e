package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// A course that is reseated lies, in the camera's own axes, where it lay before, further
// off as the focal length is longer: the image shows its middle where it did.
func TestReseatKeepsWhatTheCameraSaw(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	was := camera.Pose{R: geom.RotationAbout(geom.Vec3{X: 1}, 2.9), T: geom.Vec3{X: 0.3, Y: 1.2, Z: 9}, Focal: 1500, CX: 960, CY: 540}
	for range 20 {
		var d camera.Params
		for i := range d[:6] {
			d[i] = 0.05 * r.NormFloat64()
		}
		d[6] = 0.03 * r.NormFloat64()
		at := was.Moved(d)
		c := &Course{}
		hip := geom.Vec3{X: 0.1, Y: 1, Z: -0.2}
		for k, p := range [2]body.Point{body.LeftHip, body.RightHip} {
			c.Has[p] = true
			c.Pos[p] = []geom.Vec3{hip.Add(geom.Vec3{X: 0.1 * float64(2*k-1)})}
			c.Vel[p] = []geom.Vec3{{X: 3, Y: 4}}
		}
		c.Reseat(&was, &at)
		now := c.Pos[body.LeftHip][0].Lerp(c.Pos[body.RightHip][0], 0.5)
		before, after := was.InCamera(hip), at.InCamera(now)
		if got, want := after.Z/at.Focal, before.Z/was.Focal; math.Abs(got-want) > 1e-9 {
			t.Errorf("depth over focal length %.9f, want %.9f", got, want)
		}
		if d := math.Hypot(after.X-before.X, after.Y-before.Y); d > 1e-9 {
			t.Errorf("moved by %g m across the view", d)
		}
		if v := c.Vel[body.LeftHip][0].Norm(); math.Abs(v-5) > 1e-9 {
			t.Errorf("speed %.6f m/s, want 5", v)
		}
		if apart := c.Pos[body.LeftHip][0].Sub(c.Pos[body.RightHip][0]).Norm(); math.Abs(apart-0.2) > 1e-9 {
			t.Errorf("hips %.6f m apart, want 0.2", apart)
		}
	}
}
