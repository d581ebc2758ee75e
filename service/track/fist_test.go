package track

import (
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// An arm that turns about its elbow: the fist lies where it is said to beside the forearm, and its
// velocity is the derivative of its place.
func TestFistsLieBesideTheForearm(t *testing.T) {
	const dt, turn = 1e-4, 8.0 // s, rad/s
	var c Course
	for i := range 3 {
		m := geom.RotationAbout(geom.Vec3{Y: 1}, geom.Angle(turn*dt*float64(i)))
		for k, p := range map[body.Point]geom.Vec3{body.RightElbow: {}, body.RightWrist: {X: 0.25}, body.LeftElbow: {Z: -0.4}, body.LeftWrist: {X: 0.25, Z: -0.3}} {
			at := m.Apply(p)
			c.Has[k] = true
			c.Pos[k] = append(c.Pos[k], at)
			c.Vel[k] = append(c.Vel[k], geom.Vec3{Y: turn}.Cross(at))
		}
	}
	f := Fist{Along: 0.01, Across: geom.Vec3{X: 0.5, Y: 0.02, Z: -0.03}}
	for _, both := range []bool{false, true} {
		c.GripFromHands(both, 1.75, f)
		if want := c.Grip[2].Sub(c.Grip[0]).Scale(0.5 / dt); c.GripVel[1].Sub(want).Norm() > 1e-4 {
			t.Errorf("both %v: velocity %v, want %v", both, c.GripVel[1], want)
		}
		if want := (geom.Vec3{X: 0.25 + 0.04*1.75 + 0.01, Y: 0.02, Z: -0.03}); !both && c.Grip[0].Sub(want).Norm() > 1e-12 {
			t.Errorf("grip at %v, want %v", c.Grip[0], want)
		}
	}
	c.GripFromHands(true, 1.75, Fist{})
	l := geom.Vec3{X: 0.25, Z: -0.3}.Add(geom.Vec3{X: 0.25, Z: 0.1}.Unit().Scale(0.07))
	if want := (geom.Vec3{X: 0.32}).Lerp(l, 1./3); c.Grip[0].Sub(want).Norm() > 1e-12 {
		t.Errorf("grip of two hands at %v, want %v", c.Grip[0], want)
	}
}
