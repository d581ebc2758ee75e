package measure

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// changed returns the course with every position, direction and velocity passed
// through f, point p moving to its place in the new course by name.
func changed(c *track.Course, f func(geom.Vec3) geom.Vec3, name func(body.Point) body.Point) *track.Course {
	all := func(v []geom.Vec3) []geom.Vec3 {
		w := make([]geom.Vec3, len(v))
		for i := range v {
			w[i] = f(v[i])
		}
		return w
	}
	m := &track.Course{T: c.T, Break: c.Break, HasRacket: c.HasRacket, Ball: c.Ball}
	for p := range body.NumPoints {
		q := name(p)
		m.Has[q], m.Pos[q], m.Vel[q] = c.Has[p], all(c.Pos[p]), all(c.Vel[p])
	}
	m.Grip, m.GripVel = all(c.Grip), all(c.GripVel)
	m.Axis, m.AxisVel = all(c.Axis), all(c.AxisVel)
	m.Center, m.CenterVel = all(c.Center), all(c.CenterVel)
	return m
}

// lively is a motion in which no measure is at rest.
func lively() *track.Course {
	m := chained(0.75, 0.8, 0.85, 0.9, 0.91)
	m.points[body.LeftAnkle] = still(0.35, 0.1, -0.15)
	m.points[body.RightWrist] = func(t float64) geom.Vec3 { return vec(0.3*t, 1.1+0.1*t, 0.3) }
	m.points[body.RightKnee] = func(t float64) geom.Vec3 { return vec(0.2-t*t/9, 0.55, 0.15) }
	m.points[body.RacketTip] = func(t float64) geom.Vec3 { return vec(2*t-1.4, 1+0.3*t, 1-0.4*t) }
	m.grip = func(t float64) geom.Vec3 { return vec(3*t*t-2.5, 1+0.1*t, 0.5+0.2*t) }
	for _, p := range []body.Point{body.LeftShoulder, body.RightShoulder} {
		upright := m.points[p]
		m.points[p] = func(t float64) geom.Vec3 { return upright(t).Add(vec(0.1, 0, 0.07)) }
	}
	m.center = func(t float64) geom.Vec3 { return vec(2*t-1.5, 1+0.2*t, 0.9-0.3*t) }
	c := m.course()
	c.Ball = track.Flight{SpeedIn: 10, SpeedOut: 20, Apex: math.NaN()}
	return c
}

// Turned about the vertical, a motion keeps every measure that does not depend on X
// and changes every one that does.
func TestNeedsTarget(t *testing.T) {
	turn := geom.RotationAbout(geom.Vec3{Y: 1}, 20*geom.Deg)
	same := func(p body.Point) body.Point { return p }
	ctx := Context{Context: phase.Context{Stroke: body.TwoHandedBackhand}, Stature: 1.8}
	times := someTimes()
	times[phase.SplitLanding] = 0.1
	c := lively()
	want, got := Evaluate(c, times, ctx), Evaluate(changed(c, turn.Apply, same), times, ctx)
	far := Evaluate(changed(c, geom.RotationAbout(geom.Vec3{Y: 1}, 150*geom.Deg).Apply, same), times, ctx)
	for i, row := range Catalog() {
		switch {
		case !row.For(body.TwoHandedBackhand):
		case row.NeedsTarget && (math.Abs(got[i]-want[i]) < 1e-3 && math.Abs(far[i]-want[i]) < 1e-3 || math.IsNaN(want[i])):
			t.Errorf("%s = %v does not change with the direction", row.Name, want[i])
		case !row.NeedsTarget:
			near(t, row.Name, got[i], want[i], 1e-6)
			if math.IsNaN(want[i]) {
				t.Errorf("%s is undefined here: nothing was tested", row.Name)
			}
		}
	}
}

// A forehand in a mirror is a two-handed backhand: the left arm hits, h is −Z.
func TestMirror(t *testing.T) {
	c := lively()
	times := someTimes()
	forehand := Context{Context: phase.Context{Stroke: body.Forehand}, Stature: 1.8}
	backhand := Context{Context: phase.Context{Stroke: body.TwoHandedBackhand}, Stature: 1.8}
	want := Evaluate(c, times, forehand)
	got := Evaluate(changed(c, geom.Vec3.MirrorZ, body.Point.Twin), times, backhand)
	for i, row := range Catalog() {
		if row.For(body.Forehand) {
			near(t, row.Name, got[i], want[i], 1e-9)
		}
	}
}

// A body and racket twice as large: lengths and speeds double, angles and times stay.
func TestScale(t *testing.T) {
	c := lively()
	double := func(v geom.Vec3) geom.Vec3 { return v.Scale(2) }
	same := func(p body.Point) body.Point { return p }
	big := changed(c, double, same)
	big.Axis, big.AxisVel = c.Axis, c.AxisVel
	big.Ball.SpeedIn, big.Ball.SpeedOut = 20, 40
	ctx := Context{Context: phase.Context{Stroke: body.OneHandedBackhand}, Stature: 1.8}
	want := Evaluate(c, someTimes(), ctx)
	ctx.Stature *= 2
	got := Evaluate(big, someTimes(), ctx)
	for i, row := range Catalog() {
		factor := 1.
		if row.Unit == "m" || row.Unit == "m/s" {
			factor = 2
		}
		near(t, row.Name, got[i], factor*want[i], 1e-6)
	}
}
