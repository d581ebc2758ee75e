package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

const (
	strikeBefore = 0.20 // s before a burst in which the ball may have been hit
	strikeAfter  = 0.25 // s after its peak
	ballArm      = 0.09 // s of flight on each side that its velocity is taken from
	ballJump     = 8.0  // m/s: least change of the ball's velocity in a hit seen in the world
	ballSure     = 5.0  // standard deviations that the change must be, too
	meetWithin   = 0.40 // m: the flights before and after a hit come this near to one another
	straightUp   = 0.80 // share of a change of velocity that points up in a bounce, as an image shows it, at least
	ballFlies    = 6.0  // m/s: a ball faster than this is on its way
	ballStray    = 0.06 // m: a sight further off the arc is no part of a flight
	strikeReach  = 1.1  // m: a hit ball is this near to a wrist (arm's length and racket, in part seen end on)
	headReach    = 0.32 // m: … or this near to the middle of the racket's head (0.17 m to its rim, and what both move within a frame)
	// A ball that is met on the strings may turn by little as one camera sees it, m/s: a serve
	// seen from behind leaves along the line of sight.
	metTurn = 2.0

	ballNoise, ballBlur = 0.012, 2.5 // m, pixels: sd of a ball's sight in the world, in an image
	// A flight bends by gravity within arcSD in the world (drag and spin of a
	// fast ball, m/s²); an image adds what perspective makes of a ball that
	// flies along the line of sight: 2·v·u/distance, u its speed across the image;
	// looming is 2·25 m/s over 8 m, arcFlatSD as long as u is not known.
	arcSD, arcFlatSD, looming = 12.0, 50.0, 6.0
)

// strike is what the ball told about a burst.
type strike struct {
	hit    bool    // its flight broke at the player's hands
	plain  bool    // in a way that leaves no doubt
	bounce bool    // it may as well have bounced
	asks   float64 // share of a stroke's usual motion that hand and racket must show besides
	faint  bool    // it shows beside a swing alone (view.faint)
	flying bool    // it flew by, unbroken
	seen   bool    // it was in view
	atUS   int64   // when it broke
	sure   float64 // by how many standard deviations

	jump float64   // m/s: its largest change of velocity at the hands, a hit or not
	turn geom.Vec3 // the change of velocity of the hit, m/s
}

// strikeBetween looks for the break of the ball's flight at the racket, or at the
// hands where no racket is seen, between two instants, about a burst's peak.
func (v *view) strikeBetween(fromUS, toUS, peakUS int64) (s strike) {
	best := 0.0
	from, to := max(v.ring.since(fromUS), v.low), v.ring.since(toUS)
	for k := from; k < to && !s.seen; k++ {
		_, s.seen = v.point(k, body.Ball)
	}
	at := ballNear{to: max(from, v.ring.first+2) - 2}
	for k := from; k < to; k++ {
		if !at.hands(v, k) {
			continue // what breakAt finds first
		}
		b := v.breakAt(k)
		s.flying = s.flying || b.flying
		s.jump = math.Max(s.jump, b.jump)
		if b.hit && b.sure > best && (!b.bounce || math.Abs(v.seconds(b.atUS, peakUS)) < hitNear) {
			best, s.sure = b.sure, b.sure
			s.hit, s.plain, s.bounce, s.atUS, s.turn, s.asks, s.faint = true, b.plain, b.bounce, b.atUS, b.turn, b.asks, b.faint
		}
	}
	return s
}

// flightBreak is what the ball did at one frame.
type flightBreak struct {
	hit    bool      // its flight broke at the racket's head, at the hands where no racket is seen
	flying bool      // it came flying
	bounce bool      // it may as well have bounced, nearer to the camera or further off than the player
	plain  bool      // it was seen in the world, or turned by more than passing by or a bounce would show
	atUS   int64     // when it broke
	turn   geom.Vec3 // m/s: its change of velocity
	jump   float64   // m/s: its change of velocity at the hands; 0 when both sides were not seen
	sure   float64   // the same in standard deviations
	faint  bool      // it shows beside a swing alone
	asks   float64   // share of a stroke's usual motion that hand and racket must show besides
}

// breakAt looks for a break of the ball's flight at a frame.
func (v *view) breakAt(k uint64) (b flightBreak) {
	if k+1 >= v.ring.next || !v.ballAtHands(k) {
		return b
	}
	in := v.arc(k, -1)
	b.flying = in.n >= 3 && in.Vel.Norm() > ballFlies
	racket := v.shows(body.RacketTip) && v.shows(body.RacketThroat)
	if racket && v.ballAtHead(k) > 1 {
		return b
	}
	if racket && !v.world {
		v.passBreak(k, &b)
		return b
	}
	if in.n < 3 {
		return b
	}
	out := v.arc(k, +1)
	if out.n < 3 || v.held(k) {
		return b
	}
	b.turn = out.Vel.Sub(in.Vel)
	b.jump = b.turn.Norm()
	b.sure = b.jump / math.Hypot(in.sd, out.sd)
	if b.jump < ballJump || b.sure < ballSure || !v.turnLasts(k, b.jump) {
		return b
	}
	at := meeting(&in.motion, &out.motion, v.seconds(v.ring.time(k), v.ring.time(k+1)))
	if out.Pos.Sub(in.Pos).Add(b.turn.Scale(at)).Norm() > meetWithin {
		return b // another ball, just taken up
	}
	b.hit, b.atUS, b.asks = true, v.ring.time(k)+v.us(at), 1
	b.plain = v.world || b.jump >= ballJump
	b.bounce = !racket && b.turn.Dot(v.up(k)) > straightUp*b.jump
	b.plain = b.plain && !b.bounce
	return b
}

// turnLasts reports whether the ball's velocity has changed by about jump even
// when the sights next to the break are left out: one bad sight there looks like
// a break, too.
func (v *view) turnLasts(place uint64, jump float64) bool {
	if place < v.ring.first+1 || place+2 >= v.ring.next {
		return false
	}
	in, out := v.arc(place-1, -1), v.arc(place+1, +1)
	if in.n < 3 || out.n < 3 {
		// A fast ball leaves the picture within a few frames: then the line through what is left.
		return in.n >= 3 && out.n == 0 || in.n == 0 && out.n >= 3
	}
	turn := out.Vel.Sub(in.Vel).Norm()
	return turn > 0.4*jump && turn > 2*math.Hypot(in.sd, out.sd)
}

// meeting returns when two motions come nearest to one another, seconds, within
// a frame of dt seconds on either side.
func meeting(in, out *motion, dt float64) float64 {
	gap, turn := out.Pos.Sub(in.Pos), out.Vel.Sub(in.Vel)
	return min(max(-gap.Dot(turn)/math.Max(turn.Dot(turn), 1e-9), -dt), dt)
}

// arc is a ball's motion at a frame, from one side of it.
type arc struct {
	motion
	sd float64 // of the velocity along any axis, m/s
	n  int     // sights
}

// ballSights hands out the ball's sights within arm seconds up to a frame (side −1) or
// after it (+1), nearest first, with their times from it, until take has enough.
func (v *view) ballSights(place uint64, side int64, arm float64, take func(t float64, x geom.Vec3) bool) {
	at := v.ring.time(place)
	for i := int64(0); i < maxRingFrames; i++ {
		k := uint64(int64(place) + side*i)
		if side > 0 {
			k++ // the frame itself counts as before
		}
		if k >= v.ring.next || k < max(v.ring.first, v.low) {
			return
		}
		t := v.seconds(at, v.ring.time(k))
		if math.Abs(t) > arm {
			return
		}
		if x, ok := v.point(k, body.Ball); ok && !take(t, x) {
			return
		}
	}
}

// arc fits p + v·t + a·t²/2 to the ball's sights within ballArm seconds on one
// side of a frame, a under a prior; its number of sights is 0 when one of them
// lies off it: then something happened within.
func (v *view) arc(place uint64, side int64) arc {
	f := v.fit
	f.reset()
	v.ballSights(place, side, ballArm, func(t float64, x geom.Vec3) bool {
		f.add(t, x)
		return true
	})
	noise, bend := ballNoise, arcSD
	if !v.world {
		noise, bend = math.Max(ballBlur*v.scale, 0.003), arcFlatSD
	}
	fall := v.up(place).Scale(-9.81)
	a := f.arc(fall, noise, bend)
	if !v.world && a.n > 0 {
		if b := math.Hypot(arcSD, looming*a.Vel.Norm()); b < bend {
			if c, _ := f.tryArc(fall, noise, b); c.n > 0 {
				a = c
			}
		}
	}
	return a
}

// arc solves it, leaving out one sight that strays at most: an outlier.
func (f *fit) arc(mean geom.Vec3, noise, bend float64) arc {
	a, worst := f.tryArc(mean, noise, bend)
	if a.n == 0 && f.n >= 5 {
		copy(f.t[worst:f.n], f.t[worst+1:f.n])
		copy(f.x[worst:f.n], f.x[worst+1:f.n])
		f.n--
		a, _ = f.tryArc(mean, noise, bend)
	}
	return a
}

// tryArc solves p + v·t + a·t²/2 over the samples, noise their sd, a within bend of
// its mean on each axis. No samples are returned with fewer than three, or with
// one, the worst, further than ballStray and four sds off.
func (f *fit) tryArc(mean geom.Vec3, noise, bend float64) (a arc, worst int) {
	if f.n < 3 {
		return arc{}, 0
	}
	var s [5]float64
	var b [3]geom.Vec3
	for i := range f.n {
		t := f.t[i]
		x := f.x[i].Sub(mean.Scale(t * t / 2))
		s[0]++
		s[1] += t
		s[2] += t * t
		s[3] += t * t * t
		s[4] += t * t * t * t
		b[0], b[1], b[2] = b[0].Add(x), b[1].Add(x.Scale(t)), b[2].Add(x.Scale(t*t))
	}
	// c = a/2 has the prior sd bend/2.
	s4 := s[4] + 4*noise*noise/(bend*bend)
	c, ok := parabola(&[5]float64{s[0], s[1], s[2], s[3], s4}, &b)
	if !ok {
		return arc{}, 0
	}
	most := 0.0
	for i := range f.n {
		t := f.t[i]
		off := f.x[i].Sub(mean.Scale(t * t / 2)).Sub(c.Pos).Sub(c.Vel.Scale(t)).Sub(c.bend.Scale(t * t))
		if off.Norm() > most {
			most, worst = off.Norm(), i
		}
	}
	if most > math.Max(ballStray, 4*noise) {
		return arc{}, worst
	}
	return arc{c.motion, noise * math.Sqrt(c.inv[3]), f.n}, worst
}

// ballAtHead returns how far the ball is from the racket's head, over headReach,
// at the nearest of a frame and its neighbours; infinite where that is not seen.
func (v *view) ballAtHead(place uint64) float64 {
	near := math.Inf(1)
	for k := max(place, v.ring.first+1) - 1; k < min(place+3, v.ring.next); k++ {
		near = math.Min(near, v.ballOnHead(k))
	}
	return near
}

// ballOnHead returns how far the ball is from the racket's head at a frame, over
// headReach; infinite where that is not seen.
func (v *view) ballOnHead(k uint64) float64 {
	b, ok := v.point(k, body.Ball)
	tip, ok2 := v.point(k, body.RacketTip)
	throat, ok3 := v.point(k, body.RacketThroat)
	if !ok || !ok2 && !ok3 {
		return math.Inf(1)
	}
	head := tip.Add(throat).Scale(0.5)
	reach := headReach
	switch {
	case !ok2:
		head, reach = throat, headReach+0.17
	case !ok3:
		head, reach = tip, headReach+0.17
	}
	return b.Sub(head).Norm() / reach
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
	f := v.fit
	f.reset()
	v.ballSights(place, side, ballArm, func(t float64, x geom.Vec3) bool {
		f.add(t, x)
		return true
	})
	return f.straight(ballStray)
}

// ballAtHands reports whether the ball is within reach of a wrist at a frame,
// or at the sights next to it.
func (v *view) ballAtHands(place uint64) bool {
	at := ballNear{to: max(place, v.ring.first+2) - 2}
	return at.hands(v, place)
}

// ballNear is ballAtHands for one place after another, rising, each frame being looked at once.
type ballNear struct {
	to   uint64 // the first place that was not looked at
	near bool   // it was near a wrist …
	last uint64 // … here last
}

func (n *ballNear) hands(v *view, place uint64) bool {
	for ; n.to < min(place+3, v.ring.next); n.to++ {
		if v.ballAtWrist(n.to) {
			n.near, n.last = true, n.to
		}
	}
	return n.near && n.last+2 >= place
}

// ballAtWrist reports whether the ball is within reach of a wrist in a frame.
func (v *view) ballAtWrist(k uint64) bool {
	b, ok := v.point(k, body.Ball)
	if !ok {
		return false
	}
	for _, p := range [...]body.Point{body.LeftWrist, body.RightWrist} {
		if w, seen := v.point(k, p); seen && w.Sub(b).Norm() < strikeReach {
			return true
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
