package phase

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
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

// made is a swing by formula: every path is free, no rod is rigid, so that each
// event stands where its own formula puts it. Contact is at madeContact.
type made struct {
	points             map[body.Point]path
	grip, axis, center path
}

const (
	madeContact = 2.0
	madeEnd     = 3.5
	madeStep    = 0.0041 // s, no divisor of any instant below
)

// Instants and shapes of the made forehand.
const (
	hopAt, hopFor  = 0.55, 0.20 // the feet leave the ground, and for how long
	turnAt, turnIn = 0.80, 0.50 // the shoulders start to turn, and for how long
	dropAt, lowAt  = 1.55, 1.85 // tip highest, tip lowest
	rampAt         = 1.70       // the hand starts to move along X
	handSpeed      = 10.0       // m/s at contact
	lagAt          = 1.90       // largest lag
	lagMost        = 1.0        // rad
	fullTurn       = 1.7        // rad
)

// ease rises from 0 to 1 while x goes from 0 to 1 with a rate of 1 − cos 2πx.
func ease(x float64) float64 {
	x = math.Min(math.Max(x, 0), 1)
	return x - math.Sin(2*math.Pi*x)/(2*math.Pi)
}

// shoulderTurn turns to fullTurn, unwinds to half of it at contact and to 0 a
// second later.
func shoulderTurn(t float64) float64 {
	return fullTurn * (ease((t-turnAt)/turnIn) - 0.5*ease((t-1.6)/0.4) - 0.5*ease(t-madeContact))
}

// line returns the two ends of a horizontal line of half width w at height y
// whose normal has turned by a toward +Z.
func line(w, y float64, turn func(float64) float64) (left, right path) {
	end := func(sign float64) path {
		return func(t float64) geom.Vec3 {
			s, c := math.Sincos(turn(t))
			return geom.Vec3{X: -sign * w * s, Y: y, Z: sign * w * c}
		}
	}
	return end(-1), end(1)
}

// tipHeight is highest at dropAt and lowest, between turn and contact, at lowAt.
func tipHeight(t float64) float64 {
	if t < dropAt-(lowAt-dropAt)/2 {
		return 1
	}
	return 1 + 0.4*math.Cos(math.Pi*(t-dropAt)/(lowAt-dropAt))
}

func still(x, y, z float64) path {
	return func(float64) geom.Vec3 { return geom.Vec3{X: x, Y: y, Z: z} }
}

// hop lifts an ankle in a parabola of 0.1 m.
func hop(z float64) path {
	return func(t float64) geom.Vec3 {
		x := (t - hopAt) / hopFor
		return geom.Vec3{X: z, Y: 0.1 + math.Max(0, 0.4*x*(1-x)), Z: z}
	}
}

// gripX has the speed 0 until rampAt, then one that grows evenly to handSpeed at
// contact; afterwards it falls evenly to nothing in 0.5 s.
func gripX(t float64) geom.Vec3 {
	a := handSpeed / (madeContact - rampAt)
	x := 0.
	if t > rampAt {
		d := math.Min(t, madeContact) - rampAt
		x = a * d * d / 2
	}
	if d := math.Min(t-madeContact, 0.5); d > 0 {
		x += handSpeed * (d - d*d)
	}
	return geom.Vec3{X: x, Y: 1, Z: 0.6}
}

// lagging is u in the horizontal plane so that the lag angle is lagMost − 20 (t − lagAt)²
// while the hand moves along X.
func lagging(t float64) geom.Vec3 {
	s, c := math.Sincos(lagMost - 20*(t-lagAt)*(t-lagAt))
	return geom.Vec3{X: -s, Z: c}
}

// tipPath has the tip's height by formula and, after contact, a speed of
// 3·handSpeed that falls evenly to nothing in 0.5 s.
func tipPath(t float64) geom.Vec3 {
	p := gripX(t)
	return geom.Vec3{X: 3 * p.X, Y: tipHeight(math.Min(t, madeContact)), Z: 1}
}

func madeForehand() made {
	ls, rs := line(0.2, 1.45, shoulderTurn)
	lh, rh := line(0.15, 1.0, func(t float64) float64 { return shoulderTurn(t) / 2 })
	return made{
		points: map[body.Point]path{
			body.LeftShoulder: ls, body.RightShoulder: rs, body.LeftHip: lh, body.RightHip: rh,
			body.LeftAnkle: hop(-0.2), body.RightAnkle: hop(0.2),
			body.LeftKnee: still(0, 0.5, -0.2), body.RightKnee: still(0, 0.5, 0.2),
			body.RacketTip: tipPath,
		},
		grip: gripX, axis: lagging, center: func(t float64) geom.Vec3 { return gripX(t).Scale(2) },
	}
}

// times returns sample instants: madeStep apart, contact twice.
func times() (t []float64, brk int) {
	for x := 0.; x < madeContact; x += madeStep {
		t = append(t, x)
	}
	t = append(t, madeContact, madeContact)
	brk = len(t) - 2
	for x := madeContact + madeStep; x <= madeEnd; x += madeStep {
		t = append(t, x)
	}
	return t, brk
}

// sample fills positions and velocities; velocities are limits from the sample's own side.
func sample(p path, t []float64, brk int) (pos, vel []geom.Vec3) {
	const h = 1e-6
	for i, x := range t {
		a, b := x-h, x+h
		if i == brk {
			b = x
		} else if i == brk+1 {
			a = x
		}
		pos = append(pos, p(x))
		vel = append(vel, p(b).Sub(p(a)).Scale(1/(b-a)))
	}
	return pos, vel
}

func (m made) course() *track.Course {
	c := &track.Course{}
	c.T, c.Break = times()
	for p, f := range m.points {
		c.Has[p] = true
		c.Pos[p], c.Vel[p] = sample(f, c.T, c.Break)
	}
	c.Grip, c.GripVel = sample(m.grip, c.T, c.Break)
	if m.axis != nil {
		c.HasRacket = true
		c.Axis, c.AxisVel = sample(m.axis, c.T, c.Break)
		c.Center, c.CenterVel = sample(m.center, c.T, c.Break)
	}
	c.Ball = track.Flight{Release: math.NaN(), SpeedIn: math.NaN(), SpeedOut: math.NaN(), Apex: math.NaN()}
	return c
}

// mirrored returns the course seen in the plane Z = 0, left and right exchanged.
func mirrored(c *track.Course) *track.Course {
	flip := func(v []geom.Vec3) []geom.Vec3 {
		w := make([]geom.Vec3, len(v))
		for i := range v {
			w[i] = v[i].MirrorZ()
		}
		return w
	}
	m := &track.Course{T: c.T, Break: c.Break, HasRacket: c.HasRacket, Ball: c.Ball}
	for p := range body.NumPoints {
		q := p.Twin()
		m.Has[q], m.Pos[q], m.Vel[q] = c.Has[p], flip(c.Pos[p]), flip(c.Vel[p])
	}
	m.Grip, m.GripVel = flip(c.Grip), flip(c.GripVel)
	m.Axis, m.AxisVel = flip(c.Axis), flip(c.AxisVel)
	m.Center, m.CenterVel = flip(c.Center), flip(c.CenterVel)
	return m
}

// bisect returns where f rises through level in [a, b].
func bisect(f func(float64) float64, a, b, level float64) float64 {
	for range 60 {
		if m := (a + b) / 2; f(m) < level {
			a = m
		} else {
			b = m
		}
	}
	return (a + b) / 2
}
