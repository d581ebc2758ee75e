package track

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// The direction of play is where the waiting chest faces, unless the camera is said to stand
// well beside that, and where the camera is said to stand if nobody was seen to wait.
func TestPlayGoesWhereTheChestFacesOrTheCameraIsSaidToStand(t *testing.T) {
	still := func(float64) geom.Vec3 { return geom.Vec3{X: 0.3, Y: 1.1, Z: 0.3} }
	for _, c := range []struct {
		turned float64 // of the waiting chest from X, degrees; NaN: not seen to wait
		view   camera.Viewpoint
		want   float64 // degrees; NaN: not known
		sd     float64
	}{
		{10, camera.ViewUnknown, 10, chestDoubt},
		{70, camera.ViewUnknown, 70, chestDoubt},
		{10, camera.ViewBehind, 10, chestDoubt},
		{-30, camera.ViewBehind, -30, chestDoubt},
		{70, camera.ViewBehind, 0, viewDoubt}, // a server stands sideways
		{math.NaN(), camera.ViewBehind, 0, viewDoubt},
		{math.NaN(), camera.ViewUnknown, math.NaN(), 0},
	} {
		m, _, _ := standing(still, still, 0)
		m.rig = &Rig{Eyes: make([]camera.Pose, 1)}
		m.w.Cameras = []camera.Camera{{View: c.view}}
		m.crossings = m.sights
		sin, cos := math.Sincos(c.turned * math.Pi / 180)
		for p, side := range map[body.Point]float64{body.LeftShoulder: -0.2, body.RightShoulder: 0.2} {
			for i := range m.crossings[p] {
				m.crossings[p][i].p = geom.Vec3{X: -side * sin, Y: 1.45, Z: side * cos}
			}
			if c.turned != c.turned {
				m.crossings[p] = nil
			}
		}
		got, ok := m.aim()
		if ok != (c.want == c.want) {
			t.Errorf("%+v: known %v", c, ok)
		}
		if at := math.Atan2(got.u.Z, got.u.X) * 180 / math.Pi; ok && (math.Abs(at-c.want) > 1e-6 || got.sd != c.sd) {
			t.Errorf("%+v: %.2f ± %.2f", c, at, got.sd)
		}
	}
	m, _, _ := standing(still, still, 0)
	m.onCourt = true
	if got, ok := m.aim(); !ok || got != (aim{u: geom.Vec3{X: 1}}) {
		t.Errorf("on a court play goes along X for certain, not %+v", got)
	}
}
