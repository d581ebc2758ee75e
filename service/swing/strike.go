package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

const (
	strikeBefore = 0.20 // s before a burst's peak in which the ball may have been hit
	strikeAfter  = 0.25 // s after it
	ballArm      = 0.09 // s of flight on each side that its velocity is taken from
	ballJump     = 8.0  // m/s: least change of the ball's velocity in a hit
	ballFlies    = 6.0  // m/s: a ball faster than this is on its way
	ballStray    = 0.06 // m: a sight further off the line is no part of a flight
	strikeReach  = 1.1  // m: a hit ball is this near to a wrist (arm's length and racket, in part seen end on)
)

// strike is what the ball told about a burst.
type strike struct {
	hit    bool  // its flight broke at the player's hands
	flying bool  // it flew by, unbroken
	atUS   int64 // when it broke

	jump float64 // m/s: its largest change of velocity at the hands, a hit or not
}

// strikeAbout looks for a break in the ball's flight at the hands, near an instant.
func (v *view) strikeAbout(us int64) strike {
	var s strike
	most := 0.0
	from, to := v.ring.since(us-v.us(strikeBefore)), v.ring.since(us+v.us(strikeAfter))
	for k := max(from, v.low); k < to; k++ {
		in, n := v.ballSpeed(k, -1)
		out, n2 := v.ballSpeed(k, +1)
		if n < 3 || n2 < 3 {
			continue
		}
		jump := out.Sub(in).Norm()
		if jump < ballJump || jump < most {
			s.flying = s.flying || in.Norm() > ballFlies
		}
		if jump > most && v.ballAtHands(k) {
			most, s.jump = jump, jump
			if jump >= ballJump {
				s.hit, s.atUS = true, v.ring.time(k)
			}
		}
	}
	return s
}

// ballSpeed returns the ball's mean velocity over ballArm seconds on one side
// of a frame and the number of sights; 0 when there was no flight to see.
func (v *view) ballSpeed(place uint64, side int64) (geom.Vec3, int) {
	m, n := v.flight(place, side)
	return m.Vel, n
}

// flight returns the ball's motion at a frame, from the line through its sights
// within ballArm seconds on one side, and their number; 0 when they are fewer
// than three or lie off the line: a flight does not.
func (v *view) flight(place uint64, side int64) (motion, int) {
	f := &v.fit
	f.reset()
	at := v.ring.time(place)
	for i := int64(0); i < maxRingFrames; i++ {
		k := uint64(int64(place) + side*i)
		if side > 0 {
			k++ // the frame itself counts as before
		}
		if k >= v.ring.next || k < max(v.ring.first, v.low) {
			break
		}
		t := v.seconds(at, v.ring.time(k))
		if math.Abs(t) > ballArm {
			break
		}
		if x, ok := v.point(k, body.Ball); ok {
			f.add(t, x)
		}
	}
	return f.straight(ballStray)
}

// ballAtHands reports whether the ball is within reach of a wrist at a frame,
// or at the sights next to it.
func (v *view) ballAtHands(place uint64) bool {
	for k := max(place, v.ring.first+2) - 2; k < min(place+3, v.ring.next); k++ {
		b, ok := v.point(k, body.Ball)
		if !ok {
			continue
		}
		for _, p := range [...]body.Point{body.LeftWrist, body.RightWrist} {
			if w, seen := v.point(k, p); seen && w.Sub(b).Norm() < strikeReach {
				return true
			}
		}
	}
	return false
}

// ballIsComing reports whether the ball flies toward the body, or hangs above
// the head after a toss.
func (v *view) ballIsComing(place uint64) bool {
	vel, n := v.ballSpeed(place, -1)
	c, ok := v.center(place)
	b, ok2 := v.point(place, body.Ball)
	if n == 0 || !ok || !ok2 {
		return false
	}
	to := c.Sub(b)
	if vel.Norm() > ballFlies && vel.Dot(to) > 0 {
		return true
	}
	return -to.Dot(v.up(place)) > overHead && to.Norm() < 3
}

// overHead is how far over the hips a ball is above the head, metres.
const overHead = 0.9

// ballView makes v read where the ball is seen: in the world, else in the image.
func (v *view) ballView(place uint64) {
	v.world = v.ring.world[body.Ball] >= 0
	if !v.world {
		v.scale = v.metresPerPixel(place)
	}
}
