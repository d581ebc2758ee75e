package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

const (
	// A hand over aloft, metres above the hips, that falls with more than
	// dropping of its speed has hit already, or is the support arm of a serve
	// being tucked in: a hand meets the ball going forward or up.
	aloft, dropping = 0.45, 0.80
)

// mayHit reports whether the hand on a side moves as one that is about to hit.
func (s *sample) mayHit(side int) bool {
	if s.racket >= 0 && int(s.racket) != side {
		return false
	}
	if s.world && math.Abs(float64(s.turn)) < thresholds.turn && float64(s.rise[side]) > thresholds.tossRise*float64(s.hand[side]) {
		return false // straight up before a chest at rest: a toss or a lift
	}
	return !(s.high[side] > aloft && s.rise[side] < -dropping*s.hand[side])
}

// hitter returns the speed of the fastest hand that may be about to hit, and
// its side; 0 and the faster hand's side when neither may.
func (s *sample) hitter() (v float64, side int) {
	_, side = s.fastest()
	for k := range s.hand {
		if x := float64(s.hand[k]); s.mayHit(k) && x > v {
			v, side = x, k
		}
	}
	return v, side
}

// racketSide returns the side of the hand that holds the racket: as the setup
// says, else the one that is clearly nearer to the butt; −1 when that is not seen.
func (v *view) racketSide(place uint64) int8 {
	switch v.hand {
	case body.RightHanded:
		return right
	case body.LeftHanded:
		return left
	}
	const clearly, least = 1.5, 0.10 // ratio, m: a butt's noise, and the two hands of a two-hander
	world := v.world
	v.world = v.ring.world[body.RacketButt] >= 0
	defer func() { v.world = world }()
	butt, ok := v.point(place, body.RacketButt)
	l, ok2 := v.point(place, body.LeftWrist)
	r, ok3 := v.point(place, body.RightWrist)
	if !ok || !ok2 || !ok3 || !v.world && v.scale == 0 {
		return -1
	}
	a, b := l.Sub(butt).Norm(), r.Sub(butt).Norm()
	switch {
	case a > clearly*b+least:
		return right
	case b > clearly*a+least:
		return left
	}
	return -1
}
