package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

// A ball that is hit along the line of sight hardly turns in the image, but it is on the
// strings then, and at no other time. How near to them it is seen, how fast racket and hand
// are just then, and how far the chest was wound up before are weighed together: what one
// lacks, another makes up. Each is told as twice the logarithm of the odds that it speaks
// for a stroke, 0 at what is the least of a stroke by itself:
//
//   - chance has a ball within x of the strings' middle in a share of the cases that
//     goes with x²: 4·ln(headMet/x);
//   - of things that move now and then, fast instants are rarer than slow ones by about the
//     square of the speed, so 4·ln(v/v₀) for tip and hand;
//   - likewise what a chest was wound up, which noise alone brings near leastWind:
//     4·ln(wind/leastWind), within windSays.
const (
	headMet  = 0.6 // of headReach
	windSays = 6.0 // what the wind-up says at most, for or against: e³
)

// metReach is how near its peak a burst meets the ball, seconds: along the line of
// sight the racket seems fastest well before contact or after it.
const metReach = 0.22

// meets weighs at which instant of the burst a ball was on the moving racket's head, as
// twice the log-odds; −∞ where none was seen there.
func (d *detector) meets() (odds float64, us int64) {
	v := &d.view
	world, scale := v.world, v.scale
	v.ballView(d.b.peak.place)
	defer func() { v.world, v.scale = world, scale }()
	odds = math.Inf(-1)
	if !v.shows(body.RacketTip) && !v.shows(body.RacketThroat) {
		return odds, 0
	}
	for i := range d.trail {
		s := &d.trail[i]
		if !s.ok || s.tip == 0 || math.Abs(v.seconds(d.b.peakUS, s.timeUS)) > metReach || s.place < v.ring.first || s.place < v.low {
			continue
		}
		near := v.ballOnHead(s.place)
		if math.IsInf(near, 1) {
			continue
		}
		hand, tip, _ := d.speedsAt(s.timeUS)
		o := 4 * math.Log(headMet*tip*hand/(thresholds.tipHit*thresholds.handHit*math.Max(near, passNear)))
		if o > odds && !v.held(s.place) {
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
// unwound, and puts contact there when it was. wound tells that this makes a stroke: what
// was wound up, weighed with it, does, and the chest does not turn back by more.
func (d *detector) met(j *verdict, by, least float64) (met, wound bool) {
	if j.ball.hit || !(by >= comeBack) {
		return false, false
	}
	odds, us := d.meets()
	says := 4 * math.Log(j.wind/least)
	wound = j.wind > 0 && odds+min(max(says, -windSays), windSays) >= 0 && (j.wind >= j.back || j.hand >= thresholds.backHand)
	if met = odds >= 0; met || wound {
		j.contactUS = us
	}
	return met, wound
}
