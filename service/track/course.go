package track

import (
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Course is the clean motion of one swing: positions and velocities of every
// known point at rising instants, broken at contact. Axes are court axes with
// the player mirrored to right-handed (X toward the net, Y up, Z to the
// player's right), metres, seconds and metres a second; Y = 0 is the ground.
//
// The instant of contact stands twice in T, at Break (limits from before
// impact) and at Break+1 (limits from after). Samples 0 … Break are therefore
// the motion before, Break+1 … len(T)−1 the motion after; nothing is smoothed
// across.
type Course struct {
	T     []float64 // seconds from the window's first frame
	Break int       // index in T of the last sample before impact

	Has [body.NumPoints]bool // the point is known throughout
	Pos [body.NumPoints][]geom.Vec3
	Vel [body.NumPoints][]geom.Vec3

	// Racket, by definition (measures.md): set when HasRacket.
	HasRacket bool
	Grip      []geom.Vec3 // grip centre: 0.10 m from the butt; without racket points: from the wrists
	GripVel   []geom.Vec3
	Axis      []geom.Vec3 // u, unit, butt → tip; nil without racket points
	AxisVel   []geom.Vec3 // du/dt, 1/s
	Center    []geom.Vec3 // head centre: midpoint of tip and throat
	CenterVel []geom.Vec3

	Ball Flight

	room  [2][]geom.Vec3 // scratch of who writes the course
	room1 []float64
}

// Flight is what the ball told. Absent figures are NaN.
type Flight struct {
	Release           float64 // serve: instant at which tossing wrist and ball part, seconds as Course.T
	SpeedIn, SpeedOut float64 // m/s, just before and just after impact
	Apex              float64 // highest centre above the ground before contact, m
	// Surplus is the racket's speed that it took to turn the ball, less the racket's
	// own, m/s; SurplusSD its sd as far as the strings and the place of the hit are not known.
	Surplus, SurplusSD float64
}

// Contact returns the instant of impact, seconds as T.
func (c *Course) Contact() float64 { return c.T[c.Break] }

// clear empties the course and keeps the memory of its curves.
func (c *Course) clear() {
	*c = Course{
		Pos: c.Pos, Vel: c.Vel,
		Grip: c.Grip[:0], GripVel: c.GripVel[:0], Axis: c.Axis[:0], AxisVel: c.AxisVel[:0],
		Center: c.Center[:0], CenterVel: c.CenterVel[:0],
		room: c.room, room1: c.room1,
	}
	for p := range c.Pos {
		c.Pos[p], c.Vel[p] = c.Pos[p][:0], c.Vel[p][:0]
	}
}

// spare returns scratch for n places; k is 0 or 1.
func (c *Course) spare(k, n int) []geom.Vec3 {
	c.room[k] = sized(c.room[k], n)
	return c.room[k]
}

// flat returns scratch for n numbers.
func (c *Course) flat(n int) []float64 {
	if cap(c.room1) < n {
		c.room1 = make([]float64, n, n+n/4)
	}
	return c.room1[:n]
}

// Clone returns a copy of the course that shares nothing with it.
func (c *Course) Clone() *Course {
	o := *c
	o.room, o.room1 = [2][]geom.Vec3{}, nil
	o.T = slices.Clone(c.T)
	for p := range c.Pos {
		o.Pos[p], o.Vel[p] = slices.Clone(c.Pos[p]), slices.Clone(c.Vel[p])
	}
	o.Grip, o.GripVel = slices.Clone(c.Grip), slices.Clone(c.GripVel)
	o.Axis, o.AxisVel = slices.Clone(c.Axis), slices.Clone(c.AxisVel)
	o.Center, o.CenterVel = slices.Clone(c.Center), slices.Clone(c.CenterVel)
	return &o
}
