package phase

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// Constants of the definitions.
const (
	// lagSpeed is the grip speed, m/s, over which the lag angle is defined.
	lagSpeed = 1.0
	// lastStretch is how long before contact, s, the direction of the head centre is taken.
	lastStretch = 0.040
	// levelFeet is how far apart along X, m, the ankles must be for the nearer
	// one to be the front foot.
	levelFeet = 0.06
)

// Curves holds what events and measures read of a course at every sample of T:
// turns, rates and speeds. Its memory is reused from Read to Read; the zero
// value is ready for use. Slices are valid until the next Read.
type Curves struct {
	// Set by Read.
	c       *track.Course
	ctx     Context
	t       []float64
	contact float64
	side    float64 // sign of h along Z
	usable  bool

	// Turns: angles of the chest's and the belly's normals, radians, 0 facing
	// the net, positive toward the hitting side, without jumps; in (−π, π] at
	// contact. Nil when the joints are not known.
	ShoulderTurn, HipTurn []float64
	// Rates of the turns, rad/s, positive while turning toward the hitting side.
	ShoulderRate, HipRate []float64
	// Speeds, m/s. TipSpeed is nil without racket points.
	GripSpeed, TipSpeed []float64

	grip, gripVel []geom.Vec3
	forward       geom.Vec3 // f
	backRight     bool      // the right foot is the back foot
	searchFrom    float64   // start of the stretch in which turns are searched, s

	asked struct { // the last answer of Bracket
		t, w float64
		i    int
	}

	// Scratch.
	store     [8][]float64 // memory behind the curves
	hands     [2][]geom.Vec3
	standings []float64
}

// Course returns the course that was read.
func (k *Curves) Course() *track.Course { return k.c }

// Side returns the sign of h along Z.
func (k *Curves) Side() float64 { return k.side }

// Usable reports whether the course has at least two samples before impact and
// the contact sample stands twice.
func (k *Curves) Usable() bool { return k.usable }

// Forward returns f: the horizontal unit direction of the head centre over the
// last 40 ms before contact. Without racket points it is the grip centre's; zero
// when there is neither.
func (k *Curves) Forward() geom.Vec3 { return k.forward }

// SearchFrom returns the start of the stretch, up to contact, in which turns are
// searched; valid after Locate.
func (k *Curves) SearchFrom() float64 { return k.searchFrom }

// Known reports whether the course holds every one of the points.
func (k *Curves) Known(points ...body.Point) bool {
	for _, p := range points {
		if !k.c.Has[p] || len(k.c.Pos[p]) != len(k.t) || len(k.c.Vel[p]) != len(k.t) {
			return false
		}
	}
	return true
}

// HasTip reports whether the racket's tip and axis are known.
func (k *Curves) HasTip() bool {
	return k.c.HasRacket && k.Known(body.RacketTip) && len(k.c.Axis) == len(k.t)
}

// HasCenter reports whether the head centre is known.
func (k *Curves) HasCenter() bool {
	return k.c.HasRacket && len(k.c.Center) == len(k.t) && len(k.c.CenterVel) == len(k.t)
}

// HasGrip reports whether the grip centre is known, from the racket or from the wrists.
func (k *Curves) HasGrip() bool { return k.grip != nil }

// Read takes a course and computes its curves. The course must not change while
// the curves are in use. A course that is too short leaves Usable false.
func (k *Curves) Read(c *track.Course, ctx Context) {
	k.c, k.ctx, k.t, k.side = c, ctx, c.T, ctx.Stroke.Side()
	k.usable = c.Break >= 1 && c.Break+1 < len(c.T)
	k.ShoulderTurn, k.ShoulderRate, k.HipTurn, k.HipRate = nil, nil, nil, nil
	k.GripSpeed, k.TipSpeed, k.grip, k.gripVel = nil, nil, nil, nil
	k.asked.t = math.NaN()
	if !k.usable {
		return
	}
	k.contact = c.Contact()
	k.searchFrom = c.T[0]
	k.readGrip()
	k.readSpeeds()
	if k.Known(body.LeftShoulder, body.RightShoulder) {
		k.ShoulderTurn, k.ShoulderRate = k.room(0), k.room(1)
		k.turns(k.ShoulderTurn, k.ShoulderRate, body.LeftShoulder, body.RightShoulder)
	}
	if k.Known(body.LeftHip, body.RightHip) {
		k.HipTurn, k.HipRate = k.room(2), k.room(3)
		k.turns(k.HipTurn, k.HipRate, body.LeftHip, body.RightHip)
	}
	k.forward = k.Strike().Flat().Unit()
	k.backRight = k.backFootRight()
}

// room returns a curve's memory, one value for each sample.
func (k *Curves) room(slot int) []float64 {
	if cap(k.store[slot]) < len(k.t) {
		k.store[slot] = make([]float64, len(k.t), len(k.t)+len(k.t)/4)
	}
	return k.store[slot][:len(k.t)]
}

// Spare returns scratch for one curve beside T; its content is anything. slot is
// 0 or 1. The scratch of a slot is one and the same at every call.
func (k *Curves) Spare(slot int) []float64 { return k.room(6 + slot&1) }

// readGrip takes the grip centre of the course; without one, the dominant wrist,
// or the middle of both wrists for a two-handed backhand.
func (k *Curves) readGrip() {
	switch c := k.c; {
	case len(c.Grip) == len(k.t) && len(c.GripVel) == len(k.t):
		k.grip, k.gripVel = c.Grip, c.GripVel
	case k.ctx.Stroke == body.TwoHandedBackhand && k.Known(body.LeftWrist, body.RightWrist):
		k.grip = midpoints(&k.hands[0], c.Pos[body.LeftWrist], c.Pos[body.RightWrist])
		k.gripVel = midpoints(&k.hands[1], c.Vel[body.LeftWrist], c.Vel[body.RightWrist])
	case k.Known(body.RightWrist):
		k.grip, k.gripVel = c.Pos[body.RightWrist], c.Vel[body.RightWrist]
	}
}

func midpoints(store *[]geom.Vec3, a, b []geom.Vec3) []geom.Vec3 {
	m := (*store)[:0]
	for i := range a {
		m = append(m, a[i].Lerp(b[i], 0.5))
	}
	*store = m
	return m
}

func (k *Curves) readSpeeds() {
	if k.grip != nil {
		k.GripSpeed = k.room(4)
		speeds(k.GripSpeed, k.gripVel)
	}
	if k.HasTip() {
		k.TipSpeed = k.room(5)
		speeds(k.TipSpeed, k.c.Vel[body.RacketTip])
	}
}

func speeds(dst []float64, vel []geom.Vec3) {
	for i := range dst {
		dst[i] = vel[i].Norm()
	}
}

// turns fills the turn (radians, without jumps backward and forward from contact) and its
// rate (rad/s) of the line from the left joint l to the right joint r.
//
// With s = r − l the normal that points out of the chest is c = Y × s =
// (s.Z, 0, −s.X): a player who faces the net (+X) has his right shoulder at +Z.
// turn = atan2(c·h, c·X) = atan2(−σ·s.X, s.Z), σ the sign of h along Z
// (measures.md; axes after Wu & Cavanagh 1995). With y and x the two arguments
// the rate is (x·ẏ − y·ẋ)/(x² + y²); a vertical line has turn 0 and rate 0.
func (k *Curves) turns(turn, rate []float64, left, right body.Point) {
	l, r := k.c.Pos[left], k.c.Pos[right]
	lv, rv := k.c.Vel[left], k.c.Vel[right]
	n := len(turn)
	l, r, lv, rv, rate = l[:n], r[:n], lv[:n], rv[:n], rate[:n]
	b := k.c.Break
	from := func(first, step int) {
		x0, y0, a := 0.0, 0.0, 0.0
		for i := first; i >= 0 && i < n; i += step {
			x, y := r[i].Z-l[i].Z, -k.side*(r[i].X-l[i].X)
			dx, dy := rv[i].Z-lv[i].Z, -k.side*(rv[i].X-lv[i].X)
			rate[i] = 0
			q := x*x + y*y
			if q > 0 {
				rate[i] = (x*dy - y*dx) / q
			}
			// From sample to sample the line turns by little, of which the tangent is had
			// without a circle's whole arithmetic.
			along, across := x0*x+y0*y, x0*y-y0*x
			if math.Abs(across) < smallTurn*along {
				a += smallAtan(across / along)
			} else {
				a = closest(math.Atan2(y, x), a)
			}
			turn[i], x0, y0 = a, x, y
		}
	}
	from(b, -1)
	from(b, 1)
}

// smallTurn is the largest tangent that smallAtan takes.
const smallTurn = 0.25

// smallAtan is the arc tangent of |z| ≤ smallTurn, to 1e-15: Gregory's series.
func smallAtan(z float64) float64 {
	const c3, c5, c7, c9, c11 = 1. / 3, 1. / 5, 1. / 7, 1. / 9, 1. / 11
	const c13, c15, c17, c19, c21 = 1. / 13, 1. / 15, 1. / 17, 1. / 19, 1. / 21
	q := z * z
	v := c11 - q*(c13-q*(c15-q*(c17-q*(c19-q*c21))))
	return z * (1 - q*(c3-q*(c5-q*(c7-q*(c9-q*v)))))
}

// closest returns the angle a, radians, plus the full circles that bring it within
// half a circle of ref.
func closest(a, ref float64) float64 {
	if d := a - ref; d > math.Pi || d < -math.Pi {
		return a - 2*math.Pi*math.Round(d/(2*math.Pi))
	}
	return a
}

// Separation returns shoulder turn − hip turn at sample i, radians in [−π, π].
func (k *Curves) Separation(i int) float64 {
	return math.Remainder(k.ShoulderTurn[i]-k.HipTurn[i], 2*math.Pi)
}

// Strike returns the displacement of the head centre (without racket points: of
// the grip centre) over the last 40 ms before contact, metres; zero without either.
func (k *Curves) Strike() geom.Vec3 {
	from := k.contact - lastStretch
	switch {
	case k.HasCenter():
		return k.c.Center[k.c.Break].Sub(k.CenterAt(from))
	case k.grip != nil:
		return k.grip[k.c.Break].Sub(k.GripAt(from))
	}
	return geom.Vec3{}
}

// backFootRight tells whether the right foot is the back foot: the one further
// from the net at contact. When the ankles differ by less than 6 cm along X, the
// foot on the body's side away from the hitting side is the front foot.
func (k *Curves) backFootRight() bool {
	if !k.Known(body.LeftAnkle, body.RightAnkle) {
		return k.side > 0
	}
	b := k.c.Break
	d := k.c.Pos[body.RightAnkle][b].X - k.c.Pos[body.LeftAnkle][b].X
	if math.Abs(d) < levelFeet {
		return k.side > 0
	}
	return d < 0
}

// BackFootRight reports whether the right foot is the back foot.
func (k *Curves) BackFootRight() bool { return k.backRight }

// At returns the position of p at t: cubic between samples, from positions and velocities.
func (k *Curves) At(p body.Point, t float64) geom.Vec3 {
	return k.hermite(k.c.Pos[p], k.c.Vel[p], t)
}

// GripAt returns the grip centre at t.
func (k *Curves) GripAt(t float64) geom.Vec3 { return k.hermite(k.grip, k.gripVel, t) }

// CenterAt returns the head centre at t.
func (k *Curves) CenterAt(t float64) geom.Vec3 { return k.hermite(k.c.Center, k.c.CenterVel, t) }

// Grip returns the grip centre and its velocity at every sample.
func (k *Curves) Grip() (pos, vel []geom.Vec3) { return k.grip, k.gripVel }

// Middle returns the midpoint of two points at t.
func (k *Curves) Middle(a, b body.Point, t float64) geom.Vec3 {
	return k.At(a, t).Lerp(k.At(b, t), 0.5)
}

// hermite is the cubic that meets positions and velocities at both samples
// (Hermite's basis; any text on splines).
func (k *Curves) hermite(pos, vel []geom.Vec3, t float64) geom.Vec3 {
	i, w := k.Bracket(t)
	if w == 0 {
		return pos[i]
	}
	if w == 1 {
		return pos[i+1]
	}
	dt := k.t[i+1] - k.t[i]
	w2, w3 := w*w, w*w*w
	a, b := 2*w3-3*w2+1, 3*w2-2*w3
	c, d := dt*(w3-2*w2+w), dt*(w3-w2)
	p, q, v, u := pos[i], pos[i+1], vel[i], vel[i+1]
	return geom.Vec3{
		X: a*p.X + b*q.X + c*v.X + d*u.X,
		Y: a*p.Y + b*q.Y + c*v.Y + d*u.Y,
		Z: a*p.Z + b*q.Z + c*v.Z + d*u.Z,
	}
}

// LagAt returns the lag angle at sample i, radians: angle(u, velocity of the grip
// centre) − π/2, in [−π/2, π/2]. +π/2 is a tip straight behind the hand, 0 a
// racket square to the hand's path, negative a tip ahead of the hand. NaN while
// the grip moves at 1 m/s or slower. Own definition (no published one was found).
func (k *Curves) LagAt(i int) float64 {
	if !(k.GripSpeed[i] > lagSpeed) {
		return math.NaN()
	}
	return lag(k.c.Axis[i], k.gripVel[i])
}

// lag is angle(u, v) − π/2 in the form asin(−û·v̂), which is the same and exact
// where the racket is square to the path; past 60° atan2 keeps the precision.
func lag(u, v geom.Vec3) float64 {
	s := -u.Dot(v) / math.Sqrt(u.Dot(u)*v.Dot(v))
	if math.Abs(s) < 0.87 {
		return math.Asin(s)
	}
	return geom.Between(u, v).Radians() - math.Pi/2
}

// LagBetween returns the lag angle at t, from axis and grip between samples; NaN
// while the grip moves at 1 m/s or slower.
func (k *Curves) LagBetween(t float64) float64 {
	v := k.GripVelAt(t)
	if !(v.Norm() > lagSpeed) {
		return math.NaN()
	}
	return lag(k.axisAt(t), v)
}

// GripVelAt returns the grip centre's velocity at t: the derivative of GripAt.
func (k *Curves) GripVelAt(t float64) geom.Vec3 {
	i, w := k.Bracket(t)
	if w == 0 {
		return k.gripVel[i]
	}
	chord := k.grip[i+1].Sub(k.grip[i]).Scale(6 * w * (1 - w) / (k.t[i+1] - k.t[i]))
	return chord.Add(k.gripVel[i].Scale((1 - w) * (1 - 3*w))).Add(k.gripVel[i+1].Scale(w * (3*w - 2)))
}

// axisAt returns the racket's axis at t, of length near 1.
func (k *Curves) axisAt(t float64) geom.Vec3 {
	if len(k.c.AxisVel) == len(k.t) {
		return k.hermite(k.c.Axis, k.c.AxisVel, t)
	}
	i, w := k.Bracket(t)
	return k.c.Axis[i].Lerp(k.c.Axis[i+1], w)
}

// Flexion returns the bend, radians in [0, π], of the joint between a proximal and
// a distal point: 0 is straight (measures.md; the sense of the ISB's elbow and
// knee flexion, Wu et al. 2002, 2005).
func Flexion(proximal, joint, distal geom.Vec3) float64 {
	return geom.Between(joint.Sub(proximal), distal.Sub(joint)).Radians()
}

// Knee returns the hip, knee and ankle of a leg.
func Knee(right bool) (hip, knee, ankle body.Point) {
	if right {
		return body.RightHip, body.RightKnee, body.RightAnkle
	}
	return body.LeftHip, body.LeftKnee, body.LeftAnkle
}

// MostBent is Largest for the flexion, radians, of the joint between a proximal and a distal
// point. Which sample bends most its cosine tells, without a circle's arithmetic.
func (k *Curves) MostBent(from, to float64, proximal, joint, distal body.Point) (at, flexion float64) {
	lo, hi, ok := k.Window(from, to)
	if !ok {
		return math.NaN(), math.NaN()
	}
	a, b, c := k.c.Pos[proximal], k.c.Pos[joint], k.c.Pos[distal]
	bend := k.Spare(0)
	most, least := lo, math.Inf(1)
	for i := lo; i <= hi; i++ {
		bend[i] = 0
		u, v := b[i].Sub(a[i]), c[i].Sub(b[i])
		along := u.Dot(v)
		if s := along * math.Abs(along) / (u.Dot(u) * v.Dot(v)); s < least { // cos·|cos|
			most, least = i, s
		}
	}
	for _, at := range [...]int{lo, most, hi} {
		for i := max(lo, at-1); i <= min(hi, at+1); i++ {
			bend[i] = Flexion(a[i], b[i], c[i])
		}
	}
	return k.Largest(bend, from, to)
}
