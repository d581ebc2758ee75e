package measure

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// near fails the test when got is not within tol of want; NaN is near NaN only.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > tol {
		t.Errorf("%s = %.6g, want %.6g ± %.2g", what, got, want, tol)
	}
}

// path is where something is at t seconds from the window's first frame.
type path func(t float64) geom.Vec3

func vec(x, y, z float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }

func still(x, y, z float64) path { return func(float64) geom.Vec3 { return vec(x, y, z) } }

// made is a motion by formula, contact at 1 s. No rod is rigid: each path is free.
type made struct {
	points             map[body.Point]path
	grip, axis, center path
}

const (
	madeContact = 1.0
	madeStep    = 0.0041 // s
)

// standing is a player who faces the net, arms hanging, the racket held to +Z.
func standing() made {
	m := made{points: map[body.Point]path{}, grip: still(0.3, 1, 0.5), axis: still(0, 0, 1), center: still(0.4, 1.1, 0.9)}
	for p, v := range map[body.Point]geom.Vec3{
		body.Nose: vec(0.12, 1.65, 0), body.LeftEar: vec(0, 1.65, -0.08), body.RightEar: vec(0, 1.65, 0.08),
		body.LeftShoulder: vec(0, 1.45, -0.2), body.RightShoulder: vec(0, 1.45, 0.2),
		body.LeftElbow: vec(0, 1.15, -0.2), body.RightElbow: vec(0, 1.15, 0.2),
		body.LeftWrist: vec(0, 0.9, -0.2), body.RightWrist: vec(0, 0.9, 0.2),
		body.LeftHip: vec(0, 1, -0.15), body.RightHip: vec(0, 1, 0.15),
		body.LeftKnee: vec(0, 0.55, -0.15), body.RightKnee: vec(0, 0.55, 0.15),
		body.LeftAnkle: vec(0, 0.1, -0.15), body.RightAnkle: vec(0, 0.1, 0.15),
		body.RacketTip: vec(0.3, 1, 1.1),
	} {
		m.points[p] = still(v.X, v.Y, v.Z)
	}
	return m
}

func (m made) course() *track.Course {
	c := &track.Course{}
	for x := 0.; x < madeContact; x += madeStep {
		c.T = append(c.T, x)
	}
	c.Break = len(c.T)
	c.T = append(c.T, madeContact, madeContact)
	for x := madeContact + madeStep; x <= 2; x += madeStep {
		c.T = append(c.T, x)
	}
	for p, f := range m.points {
		c.Has[p] = true
		c.Pos[p], c.Vel[p] = sample(f, c)
	}
	c.Grip, c.GripVel = sample(m.grip, c)
	if m.axis != nil {
		c.HasRacket = true
		c.Axis, c.AxisVel = sample(m.axis, c)
		c.Center, c.CenterVel = sample(m.center, c)
	}
	nan := math.NaN()
	c.Ball = track.Flight{Release: nan, SpeedIn: nan, SpeedOut: nan, Apex: nan}
	return c
}

// sample fills positions and velocities; at contact, limits from the sample's own side.
func sample(p path, c *track.Course) (pos, vel []geom.Vec3) {
	const h = 1e-6
	for i, x := range c.T {
		a, b := x-h, x+h
		if i == c.Break {
			b = x
		} else if i == c.Break+1 {
			a = x
		}
		pos = append(pos, p(x))
		vel = append(vel, p(b).Sub(p(a)).Scale(1/(b-a)))
	}
	return pos, vel
}

// someTimes are events that do not depend on the motion.
func someTimes() phase.Times {
	t := phase.None()
	t[phase.TurnStart], t[phase.TurnComplete] = 0.2, 0.5
	t[phase.DropStart], t[phase.ForwardStart], t[phase.RacketLow] = 0.6, 0.7, 0.8
	t[phase.MaxLag], t[phase.Contact], t[phase.FollowEnd] = 0.85, madeContact, 1.4
	return t
}

// read evaluates one measure of a made motion.
func read(t *testing.T, name string, m made, times phase.Times, stroke body.Stroke) float64 {
	t.Helper()
	return readCourse(t, name, m.course(), times, stroke)
}

func readCourse(t *testing.T, name string, c *track.Course, times phase.Times, stroke body.Stroke) float64 {
	t.Helper()
	i, ok := Index(name)
	if !ok {
		t.Fatalf("no measure %q", name)
	}
	ctx := Context{Context: phase.Context{Stroke: stroke}, Stature: 1.75}
	return Evaluate(c, times, ctx)[i]
}
