package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// vectors lists every curve of places or free vectors that the course holds.
// place is true for curves of places, false for velocities and axes.
func (c *Course) vectors(do func(v []geom.Vec3, place bool)) {
	for p := range body.NumPoints {
		do(c.Pos[p], true)
		do(c.Vel[p], false)
	}
	do(c.Grip, true)
	do(c.GripVel, false)
	do(c.Axis, false)
	do(c.AxisVel, false)
	do(c.Center, true)
	do(c.CenterVel, false)
}

// Mirror turns a left-hander into a right-hander, in place: Z changes sign,
// left and right points change names.
func (c *Course) Mirror() {
	c.vectors(func(v []geom.Vec3, _ bool) {
		for i := range v {
			v[i] = v[i].MirrorZ()
		}
	})
	for p := range body.NumPoints {
		if q := p.Twin(); q > p {
			c.Pos[p], c.Pos[q] = c.Pos[q], c.Pos[p]
			c.Vel[p], c.Vel[q] = c.Vel[q], c.Vel[p]
			c.Has[p], c.Has[q] = c.Has[q], c.Has[p]
		}
	}
}

// TurnTo turns the course about the vertical, in place, so that the
// horizontal direction x becomes +X.
func (c *Course) TurnTo(x geom.Vec3) {
	x = x.Flat().Unit()
	if x == (geom.Vec3{}) {
		return
	}
	c.vectors(func(v []geom.Vec3, _ bool) {
		for i, a := range v {
			v[i] = geom.Vec3{X: a.X*x.X + a.Z*x.Z, Y: a.Y, Z: a.Z*x.X - a.X*x.Z}
		}
	})
}

// Raise moves the course up by dy, in place.
func (c *Course) Raise(dy float64) {
	c.vectors(func(v []geom.Vec3, place bool) {
		if !place {
			return
		}
		for i := range v {
			v[i].Y += dy
		}
	})
	c.Ball.Apex += dy
}

// legReach bounds hip joint to ankle as a share of stature: thigh and shank are 0.245 and
// 0.246 (Drillis & Contini 1966, from memory), and a seventh for the errors of both and
// for proportions that differ.
const legReach = 0.56

func hipOf(ankle body.Point) body.Point {
	if ankle == body.LeftAnkle {
		return body.LeftHip
	}
	return body.RightHip
}

// StandingAnkle returns the level on which the lower ankle stands: the level
// under which it is for a fifth of the time. The very lowest sight would be the
// one with the largest error. An ankle further under its hip than the leg of a player of
// that stature reaches was not seen then, and is left out: a course of points goes on
// over a gap or an end as it last moved. NaN without ankles.
func (c *Course) StandingAnkle(stature float64) float64 {
	l, r := body.LeftAnkle, body.RightAnkle
	if !c.Has[l] && !c.Has[r] {
		return math.NaN()
	}
	var low []float64
	for i := range c.T {
		y := math.Inf(1)
		for _, p := range [2]body.Point{l, r} {
			if hip := hipOf(p); c.Has[p] && !(c.Has[hip] && c.Pos[hip][i].Y-c.Pos[p][i].Y > legReach*stature) {
				y = math.Min(y, c.Pos[p][i].Y)
			}
		}
		if !math.IsInf(y, 1) {
			low = append(low, y)
		}
	}
	if len(low) == 0 {
		return math.NaN()
	}
	slices.Sort(low)
	return low[len(low)/5]
}

// Tilt turns the course about its first sample's mid-hip, in place, by small
// angles (radians) about the horizontal directions X and Z: what an error of the
// upright does.
func (c *Course) Tilt(aboutX, aboutZ float64) {
	if !c.Has[body.LeftHip] || !c.Has[body.RightHip] {
		return
	}
	o := c.Pos[body.LeftHip][0].Lerp(c.Pos[body.RightHip][0], 0.5)
	m := geom.RotationAbout(geom.Vec3{X: 1}, geom.Angle(aboutX)).Mul(geom.RotationAbout(geom.Vec3{Z: 1}, geom.Angle(aboutZ)))
	c.vectors(func(v []geom.Vec3, place bool) {
		for i := range v {
			if place {
				v[i] = m.Apply(v[i].Sub(o)).Add(o)
			} else {
				v[i] = m.Apply(v[i])
			}
		}
	})
}
