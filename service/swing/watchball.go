package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// hitNear is how near a burst's peak, seconds, a hit is the peak's own.
const hitNear = 0.10

// watchBall looks for hits at the frames that have been sampled on both sides. A ball
// that leaves its flight at the racket was hit, however slow the hand and however
// fast the take-back before: it opens a burst, or draws the peak of one to itself.
// A burst by speed alone holds one peak, and the take-back of a short volley is
// faster than the volley.
func (d *detector) watchBall(nowUS int64) {
	v := &d.view
	if !d.seesBall() {
		return
	}
	d.watched = max(d.watched, v.low, v.ring.first)
	for d.watched < v.ring.next && v.seconds(v.ring.time(d.watched), nowUS) >= strikeSide {
		k := d.watched
		d.watched++
		if v.ring.time(k) < d.from {
			continue
		}
		world, scale := v.world, v.scale
		v.ballView(k)
		b := v.breakAt(k)
		v.world, v.scale = world, scale
		if b.hit && !b.bounce && d.swingsAt(b.atUS, b.plain, b.asks) {
			d.meet(b.atUS, b.sure, b.plain)
		}
	}
}

// meet takes in that the ball was hit, as surely as sure standard deviations, or plainly: the
// surest plain hit of a burst has its peak, the surest of the others where none is.
func (d *detector) meet(us int64, sure float64, plain bool) {
	switch {
	case d.b.on && math.Abs(d.view.seconds(us, d.b.peakUS)) < hitNear:
		d.b.struck, d.b.plain = true, plain || d.b.plain
		if sure > d.b.sure {
			d.b.sure, d.b.hitUS = sure, us
		}
	case d.b.on && (plain && !d.b.plain || sure > d.b.sure && plain == d.b.plain):
		d.b.struck, d.b.sure, d.b.hitUS = d.moveTo(us), sure, us
		d.b.plain = d.b.struck && plain
	case !d.b.on:
		if i := d.nearest(us); i >= 0 {
			d.b = burst{on: true, openUS: d.trail[i].timeUS, level: 1}
			d.b.struck, d.b.sure, d.b.hitUS = d.moveTo(us), sure, us
			d.b.plain = d.b.struck && plain
		}
	}
}

// nearest returns the place in the trail of the sample nearest to an instant, within
// hitNear; −1: none.
func (d *detector) nearest(us int64) int {
	at, off := -1, hitNear
	for i := range d.trail {
		if x := math.Abs(d.view.seconds(us, d.trail[i].timeUS)); d.trail[i].ok && x < off {
			at, off = i, x
		}
	}
	return at
}

// moveTo puts the burst's peak at an instant, and looks for the
// end of the follow-through anew; it reports whether it was sampled there.
func (d *detector) moveTo(us int64) bool {
	at := d.nearest(us)
	if at < 0 {
		return false
	}
	d.b.peak, d.b.peakUS, d.b.endUS, d.b.doubted, d.b.awaits = d.trail[at], d.trail[at].timeUS, 0, false, false
	for i := at + 1; i < len(d.trail); i++ {
		if d.trail[i].ok {
			d.seeEnd(&d.trail[i], 0)
		}
	}
	return true
}

// held reports whether a ball was in a hand shortly before a frame, or is just after
// it: it stays within a hand's length of the same wrist and moves along with it for
// heldFor. What leaves a hand was tossed or let fall, and from there to being hit
// takes it longer than handToHit; what ends in a hand was caught or taken up. A ball
// that flies along the line of sight past a wrist moves across it.
func (v *view) held(place uint64) bool {
	for _, wrist := range [...]body.Point{body.LeftWrist, body.RightWrist} {
		if v.heldBy(place, -1, handToHit, wrist) || v.heldBy(place+1, +1, ballArm+0.01, wrist) {
			return true
		}
	}
	return false
}

// heldBy looks for it from a frame on in steps of one frame, for so many seconds.
func (v *view) heldBy(place uint64, step int64, reach float64, wrist body.Point) bool {
	var first geom.Vec3
	n, begin := 0, int64(0)
	for k := place; k >= max(v.ring.first, v.low) && k < v.ring.next; k = uint64(int64(k) + step) {
		us := v.ring.time(k)
		if math.Abs(v.seconds(us, v.ring.time(place))) > reach {
			return false
		}
		b, ok := v.point(k, body.Ball)
		w, ok2 := v.point(k, wrist)
		if !ok || !ok2 {
			continue
		}
		off := b.Sub(w)
		switch {
		case off.Norm() > inHand:
			n = 0
			continue
		case n > 0 && off.Sub(first).Norm() > inGrip:
			n = 0
		}
		if n == 0 {
			first, begin = off, us
		}
		if n++; n >= 4 && math.Abs(v.seconds(us, begin)) >= heldFor {
			return true
		}
	}
	return false
}

const (
	// inHand is how far a held ball's centre is from the wrist joint at most, metres: a
	// hand's length from wrist to fingertips (0.108 of stature, Drillis & Contini 1966,
	// from memory) for a tall player, and what noise adds.
	inHand = 0.24
	// inGrip is how far a held ball moves within the hand, metres: noise of both.
	inGrip = 0.08
	// heldFor is how long a ball is seen in a hand that holds it, seconds.
	heldFor = 0.08
	// handToHit is the least time from a hand to the strings, seconds: a toss takes
	// 0.5 and more, a ball dropped to be hit after its bounce no less.
	handToHit = 0.30
)
