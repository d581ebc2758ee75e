package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

// A ball that is hit along the line of sight hardly turns in the image, but it is on the
// strings then, and at no other time. How near to them it is seen and how fast racket and hand
// are just then are weighed together: what one lacks, another makes up. Each is told as twice
// the logarithm of the odds that it speaks for a stroke, 0 at what is the least of a stroke by
// itself:
//
//   - chance has a ball within x of the strings' middle in a share of the cases that
//     goes with x²: 4·ln(headMet/x);
//   - of things that move now and then, fast instants are rarer than slow ones by about the
//     square of the speed, so 4·ln(v/v₀) for tip and hand, 0 at most: a take-back is as fast
//     as a stroke.
//
// What tells a take-back from it is that nothing was wound up before; the odds do not make up
// for that, for a ball that comes along the line of sight may be near the strings for long.
const headMet = 0.6 // of headReach

// metReach is how near its peak a burst meets the ball, seconds: along the line of
// sight the racket seems fastest well before contact or after it.
const metReach = 0.22

// meets weighs at which instant of the burst a ball was on the moving racket's head, as
// twice the log-odds; −∞ where none was seen there.
func (d *detector) meets() (odds float64, us int64) {
	v := &d.view
	world, scale := v.world, v.scale
	v.ballView(v.ring.since(d.b.peak.timeUS))
	defer func() { v.world, v.scale = world, scale }()
	odds = math.Inf(-1)
	if !v.shows(body.RacketTip) && !v.shows(body.RacketThroat) {
		return odds, 0
	}
	for i := range d.trail {
		s := &d.trail[i]
		if !s.ok || s.tip == 0 || math.Abs(v.seconds(d.b.peakUS, s.timeUS)) > metReach {
			continue
		}
		place := max(v.ring.since(s.timeUS), v.low)
		if place >= v.ring.next || v.ring.time(place) != s.timeUS {
			continue
		}
		near := v.ballOnHead(place)
		if math.IsInf(near, 1) {
			continue
		}
		hand, tip, _ := d.speedsAt(s.timeUS)
		fast := math.Min(1, tip/thresholds.tipHit*hand/thresholds.handHit)
		o := 4 * math.Log(headMet/math.Max(near, passNear)*fast)
		if o > odds && !v.held(place) {
			odds, us = o, s.timeUS
		}
	}
	return odds, us
}

// ballMeets is ballOnHead where the ball is seen.
func (v *view) ballMeets(place uint64) float64 {
	world, scale := v.world, v.scale
	defer func() { v.world, v.scale = world, scale }()
	v.ballView(place)
	return v.ballOnHead(place)
}

// met reports whether a ball that was not seen to be hit was on the racket as the chest
// unwound, by some degrees by now, and puts contact there when it was.
func (d *detector) met(j *verdict, by float64) bool {
	if j.ball.hit || !(by >= comeBack) {
		return false
	}
	odds, us := d.meets()
	if odds >= 0 {
		j.contactUS = us
	}
	return odds >= 0
}
