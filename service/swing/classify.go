package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// features is what tells the strokes apart, read from a settled course. Nothing
// depends on the heading: directions are the chest's and the hand's own.
// Lengths are divided by the body's size (as of a person of referenceStature).
// A feature that the course cannot give is NaN and then says nothing.
type features struct {
	high     float64 // m: highest hitting wrist over mid-shoulder from 0.3 s before contact to it; without a racket to 0.05 s after it
	together float64 // m: largest distance of the wrists from 0.15 s before contact to it
	across   float64 // m: the same across the line of sight of the one camera: there nothing is guessed; together where it was seen in space
	turn     float64 // deg: turn of the chest toward the support side, from 0.25 s before to 0.05 s after contact
	side     float64 // m: hitting wrist to the hitting arm's own side of the chest, mean of 0.3–0.1 s before contact
	lift     float64 // m: rise of the support wrist, relative to the shoulders, in the 1.7 s before contact
	wait     float64 // s: from the wrists' last being together and low until contact
	rise     float64 // m: highest rise of the hitting wrist in the 0.35 s after contact, relative to the shoulders
	back     float64 // m: how far behind its place at contact the hitting wrist was, along its own path, within 0.6 s
	fall     float64 // m: highest hitting wrist 0.6–0.1 s before contact over the wrist at contact, relative to the shoulders
	speed    float64 // m/s: hitting wrist at contact, relative to the hips
	slope    float64 // deg: elevation of the racket head's (else the wrist's) path over the last 60 ms before contact
	tipHigh  float64 // m: highest racket tip over the grip 0.6–0.1 s before contact; NaN without a racket
	coil     float64 // deg: how far the chest turned to the hitting arm's side, over how it stood in the 1.7 s before contact
	ballFar  float64 // m: ball from mid-shoulder 0.45–0.25 s before contact; NaN when it was not seen
	ballFast float64 // m/s: how fast the ball was seen to move before contact, at the least; NaN when it was not seen
	toss     bool    // the ball was seen to leave the support hand
	racket   bool    // slope is the racket head's

	otherSpeed float64 // m/s: the other wrist's speed at contact, relative to the hips
	above      float64 // m: hitting wrist over the other at its highest about contact
	onHandle   float64 // m: hitting wrist from the handle, mean of the 0.1 s before contact; NaN without a racket
	offHandle  float64 // m: the other wrist likewise
	ballIn     float64 // m/s: ball speed before impact
	handed     float64 // +1 read for the right hand, −1 for the left
	unbounced  float64 // log-odds that the ball came without a bounce
}

// reader reads one course for one choice of hitting hand.
type reader struct {
	c             *track.Course
	hit, support  body.Point // wrists
	handed        float64    // +1 right, −1 left
	size, contact float64
	beside
}

// beside is what is known beside the course.
type beside struct {
	ballFar   float64   // of ballBefore: m, over the body's size; NaN: not seen
	ballFast  float64   // of ballSpeed: m/s, not over the body's size: balls fall alike for all; NaN: not seen
	unbounced float64   // of unbounced: log-odds that the ball came without a bounce
	sight     geom.Vec3 // unit vector along which the one camera looks at the player; zero: seen in space
}

// index returns the sample nearest before an instant, on the contact's near side.
func (r *reader) index(fromContact float64) int {
	t := r.contact + fromContact
	if fromContact <= 0 {
		k := r.c.Break
		for k > 0 && r.c.T[k] > t {
			k--
		}
		return k
	}
	k := min(r.c.Break+1, len(r.c.T)-1)
	for k < len(r.c.T)-1 && r.c.T[k] < t {
		k++
	}
	return k
}

// middle returns the midpoint of two points, falling back on the stand-in.
func (r *reader) middle(k int, a, b, standIn body.Point) geom.Vec3 {
	switch {
	case r.c.Has[a] && r.c.Has[b]:
		return r.c.Pos[a][k].Add(r.c.Pos[b][k]).Scale(0.5)
	case r.c.Has[standIn]:
		return r.c.Pos[standIn][k]
	}
	return geom.Vec3{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
}

func (r *reader) shoulder(k int) geom.Vec3 {
	return r.middle(k, body.LeftShoulder, body.RightShoulder, body.Neck)
}

// toRight returns the horizontal unit vector from the left to the right shoulder.
func (r *reader) toRight(k int) geom.Vec3 {
	if !r.c.Has[body.LeftShoulder] || !r.c.Has[body.RightShoulder] {
		return geom.Vec3{X: math.NaN(), Z: math.NaN()}
	}
	d := r.c.Pos[body.RightShoulder][k].Sub(r.c.Pos[body.LeftShoulder][k])
	d.Y = 0
	return d.Scale(1 / d.Norm())
}

// wrist returns a wrist relative to mid-shoulder, over the body's size.
func (r *reader) wrist(p body.Point, k int) geom.Vec3 {
	return r.c.Pos[p][k].Sub(r.shoulder(k)).Scale(1 / r.size)
}

// most returns the largest f over the samples between two instants from contact.
func (r *reader) most(from, to float64, f func(k int) float64) float64 {
	top := math.Inf(-1)
	for k := r.index(from); k <= r.index(to); k++ {
		top = math.Max(top, f(k))
	}
	return top
}

// mean returns the mean of f over the samples between two instants from contact.
func (r *reader) mean(from, to float64, f func(k int) float64) float64 {
	sum, n := 0.0, 0.0
	for k := r.index(from); k <= r.index(to); k++ {
		sum += f(k)
		n++
	}
	return sum / n
}

// read takes the features of the course.
func (r *reader) read() features {
	hit := func(k int) geom.Vec3 { return r.wrist(r.hit, k) }
	atContact := r.c.Break
	v := r.velocity(r.hit, atContact)
	flat := geom.Vec3{X: v.X, Z: v.Z}
	flat = flat.Scale(1 / flat.Norm())
	late := 0.05 // s: where nothing but the body was seen, contact is told early
	if r.c.HasRacket {
		late = 0 // a fast hand rises far in 50 ms
	}
	f := features{
		high:  r.most(-0.3, late, func(k int) float64 { return hit(k).Y }),
		turn:  r.chestTurn(-0.25, 0.05),
		side:  r.handed * r.mean(-0.3, -0.1, func(k int) float64 { return hit(k).Dot(r.toRight(k)) }),
		rise:  r.most(0.001, 0.35, func(k int) float64 { return hit(k).Y - hit(atContact).Y }),
		back:  r.most(-0.6, 0, func(k int) float64 { return hit(atContact).Sub(hit(k)).Dot(flat) }),
		fall:  r.most(-0.6, -0.1, func(k int) float64 { return hit(k).Y - hit(atContact).Y }),
		speed: v.Norm(),
		toss:  !math.IsNaN(r.c.Ball.Release), handed: r.handed,
	}
	f.ballIn, f.ballFar, f.ballFast, f.unbounced, f.coil = r.c.Ball.SpeedIn, r.ballFar, r.ballFast, r.unbounced, r.coil()
	f.onHandle, f.offHandle = r.fromHandle(r.hit), r.fromHandle(r.support)
	f.together, f.across, f.lift, f.wait = math.NaN(), math.NaN(), math.NaN(), math.NaN()
	f.otherSpeed, f.above = 0.1, 0
	if r.c.Has[r.support] {
		f.together, f.across = r.most(-0.15, 0, r.apart), r.most(-0.15, 0, r.apartAcross)
		f.lift = r.supportLift()
		f.wait = r.sinceTogether()
		f.speed = r.most(-0.1, 0, func(k int) float64 { return r.velocity(r.hit, k).Norm() })
		f.otherSpeed = r.most(-0.1, 0, func(k int) float64 { return r.velocity(r.support, k).Norm() })
		f.above = f.high - r.most(-0.1, 0.1, func(k int) float64 { return r.wrist(r.support, k).Y })
	}
	f.slope, f.racket = r.pathSlope()
	f.tipHigh = r.tipOverGrip()
	return f
}

// apart returns the distance of the wrists, over the body's size.
func (r *reader) apart(k int) float64 {
	return r.c.Pos[r.hit][k].Sub(r.c.Pos[r.support][k]).Norm() / r.size
}

// apartAcross returns their distance across the line of sight: what one camera saw of it.
func (r *reader) apartAcross(k int) float64 {
	d := r.c.Pos[r.hit][k].Sub(r.c.Pos[r.support][k])
	return d.Sub(r.sight.Scale(d.Dot(r.sight))).Norm() / r.size
}

// velocity returns a wrist's velocity relative to the hips, over the body's size.
func (r *reader) velocity(p body.Point, k int) geom.Vec3 {
	v := r.c.Vel[p][k]
	if r.c.Has[body.LeftHip] && r.c.Has[body.RightHip] {
		v = v.Sub(r.c.Vel[body.LeftHip][k].Add(r.c.Vel[body.RightHip][k]).Scale(0.5))
	}
	return v.Scale(1 / r.size)
}

// fromHandle returns the mean distance of a wrist from the handle, butt to
// 0.25 m up the racket, over the 0.1 s before contact; NaN without a racket.
func (r *reader) fromHandle(wrist body.Point) float64 {
	c := r.c
	if !c.HasRacket || !c.Has[wrist] || len(c.Axis) != len(c.T) || len(c.Grip) != len(c.T) {
		return math.NaN()
	}
	const gripToButt, handle = 0.10, 0.25
	return r.mean(-0.1, 0, func(k int) float64 {
		d := c.Pos[wrist][k].Sub(c.Grip[k].Sub(c.Axis[k].Scale(gripToButt)))
		along := min(max(d.Dot(c.Axis[k]), 0), handle)
		return d.Sub(c.Axis[k].Scale(along)).Norm()
	}) / r.size
}

// chestTurn returns the turn of the shoulder line about the vertical, degrees,
// positive when the hitting shoulder comes forward (a forehand's unwinding).
func (r *reader) chestTurn(from, to float64) float64 {
	sum := 0.0
	for k := r.index(from) + 1; k <= r.index(to); k++ {
		a, b := r.toRight(k-1), r.toRight(k)
		sum += math.Atan2(a.Cross(b).Y, a.Dot(b))
	}
	return r.handed * geom.Angle(sum).Degrees()
}

// coil returns how far the chest turned back, degrees, from any earlier heading to
// a later one, before it came forward: a server stands sideways already, whoever
// hits a smash has faced the net.
func (r *reader) coil() float64 {
	turned, least, most := 0.0, 0.0, 0.0
	from := r.index(-1.7)
	for k := from + 1; k <= r.c.Break; k++ {
		a, b := r.toRight(k-1), r.toRight(k)
		turned -= r.handed * math.Atan2(a.Cross(b).Y, a.Dot(b)) // positive: the hitting shoulder goes back
		least = math.Min(least, turned)
		most = math.Max(most, turned-least)
	}
	return geom.Angle(most).Degrees()
}

// supportLift returns the largest rise of the support wrist to its highest point before contact.
func (r *reader) supportLift() float64 {
	low, lift := math.Inf(1), 0.0
	for k := r.index(-1.7); k <= r.c.Break; k++ {
		y := r.wrist(r.support, k).Y
		low = math.Min(low, y)
		lift = math.Max(lift, y-low)
	}
	return lift
}

// sinceTogether returns the time from the last instant at which both wrists were
// within 0.38 m of one another and below the shoulders until contact; the time
// that was seen when that never was.
func (r *reader) sinceTogether() float64 {
	for k := r.c.Break; k >= 0; k-- {
		if r.apart(k) < 0.38 && r.wrist(r.hit, k).Y < 0 && r.wrist(r.support, k).Y < 0 {
			return r.contact - r.c.T[k]
		}
	}
	return r.contact - r.c.T[0]
}

// pathSlope returns the elevation of the racket head's path before contact, of
// the wrist's without a racket.
func (r *reader) pathSlope() (deg float64, racket bool) {
	a, b := r.index(-0.06), r.c.Break
	d := r.c.Pos[r.hit][b].Sub(r.c.Pos[r.hit][a])
	if r.c.HasRacket && len(r.c.Center) == len(r.c.T) {
		d, racket = r.c.Center[b].Sub(r.c.Center[a]), true
	}
	return geom.Angle(math.Atan2(d.Y, math.Hypot(d.X, d.Z))).Degrees(), racket
}

// tipOverGrip returns how high the racket stood over the hand in the take-back.
func (r *reader) tipOverGrip() float64 {
	if !r.c.HasRacket || !r.c.Has[body.RacketTip] || len(r.c.Grip) != len(r.c.T) {
		return math.NaN()
	}
	return r.most(-0.6, -0.1, func(k int) float64 {
		return (r.c.Pos[body.RacketTip][k].Y - r.c.Grip[k].Y) / r.size
	})
}

// bodySize returns the body's length over that of a person of referenceStature,
// from trunk and legs at contact; 1 when they are not known.
func bodySize(c *track.Course) float64 {
	for _, p := range [...]body.Point{
		body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip,
		body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle,
	} {
		if !c.Has[p] {
			return 1
		}
	}
	k := c.Break
	mid := func(a, b body.Point) geom.Vec3 { return c.Pos[a][k].Add(c.Pos[b][k]).Scale(0.5) }
	d := func(a, b body.Point) float64 { return c.Pos[a][k].Sub(c.Pos[b][k]).Norm() }
	l := mid(body.LeftShoulder, body.RightShoulder).Sub(mid(body.LeftHip, body.RightHip)).Norm() +
		(d(body.LeftHip, body.LeftKnee)+d(body.LeftKnee, body.LeftAnkle)+
			d(body.RightHip, body.RightKnee)+d(body.RightKnee, body.RightAnkle))/2
	return min(max(l/bodyLength, 0.6), 1.4)
}

// readFor returns the features when the given hand holds the racket; ok is
// false when its wrist or the shoulders are not known.
func readFor(c *track.Course, hand body.Hand, b beside) (features, bool) {
	r := reader{beside: b, c: c, hit: body.RightWrist, support: body.LeftWrist, handed: 1, size: bodySize(c), contact: c.Contact()}
	if hand == body.LeftHanded {
		r.hit, r.support, r.handed = body.LeftWrist, body.RightWrist, -1
	}
	if !c.Has[r.hit] || !(c.Has[body.LeftShoulder] && c.Has[body.RightShoulder] || c.Has[body.Neck]) {
		return features{}, false
	}
	return r.read(), true
}
