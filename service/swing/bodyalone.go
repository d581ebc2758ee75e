package swing

import "math"

// Where neither racket nor ball is seen of late, the hands and the chest alone tell a
// stroke. A take-back is then much like a stroke that comes to rest: the chest turns,
// the hand goes with it, as fast at times as in a slow swing. What parts them is what
// comes next: the stroke follows its take-back within a second or so, from a chest
// wound up, the hand faster or the chest. So a burst that is not plainly a stroke
// waits for its rivals, and the greatest force takes the place.
const (
	// rivalReach is how long after its peak, seconds, a burst waits for a rival: take-backs
	// are fastest 0.4 to 1.1 s before contact (recorded ground strokes, volleys and smashes).
	rivalReach = 1.25

	// woundLead is by how much a rival must exceed a burst in which the chest was seen to
	// unwind from far: its own wind-up is then what that burst unwound, as in a recovery.
	woundLead = 1.5

	// sharpestChest is how fast a chest's turn speeds up at most, deg/s²: recorded strokes
	// reach 700 deg/s from 100 degrees wound up and 500 from 50, 2500 on the mean; three
	// times that leaves room for noise. Points that jump to somebody else go past it.
	sharpestChest = 8000

	// leastSpring is the least turn, degrees, that a chest has to speed up in: noise and the
	// turn through which it is followed hide so much.
	leastSpring = 15

	// fastAlone is the hand speed, m/s, from which the chest was wound up far in any stroke:
	// recorded serves and forehands of 7 to 11 from 60 degrees and up.
	fastAlone = 8

	// hangs is how high over the hips, metres, a hand stays under that hangs or reaches down:
	// whatever is hit, it is higher some time within 0.3 s (recorded and made strokes 0.17 and
	// up, picking up a ball and walking 0.10 and less).
	hangs = 0.12

	// sameBurst is how long, seconds, after a peak the motion is still that of the peak:
	// within it the faster instant counts, after it the greater force.
	sameBurst = 0.25

	// What meets a ball that comes from the net goes towards the net, to where the chest faced
	// before it wound up, and the chest is then nearly back: recorded and made strokes unwind to
	// within homeTurn, degrees, unless the hand is fast, and of a hand's speed forwardShare, the
	// cosine of 60 degrees, goes there at least. Take-backs go away from the net, and a recovery
	// follows a chest that the stroke itself had turned, by more.
	homeTurn     = 50
	forwardShare = 0.5

	// farthestWind is from how far, degrees, a chest comes back that a stroke has turned itself, unless
	// the hand is fast: made strokes were wound up by 151 and less, slow ones by 125; the recorded ones
	// that come from farther have hands of 5.5 m/s and more.
	farthestWind = 160

	// takeUpLead is what share of its force a rival over the shoulders must exceed, where a hand went
	// away from the net with a chest that winds up: what takes the racket up for a smash may be
	// half as fast again as the stroke.
	takeUpLead = 0.5

	// forceReach is how long before a hand is fastest, seconds, the chest turns fastest:
	// recorded strokes 0 to 0.1.
	forceReach = 0.15
)

// bodyAlone reports whether the camera shows a body in the world, and of late no racket
// and no ball.
func (d *detector) bodyAlone() bool {
	return d.view.world && !d.seesBall() && !d.view.ring.seesRacketSince(d.lateUS())
}

// force is how much of a stroke the newest sample shows: the hand's speed, more if it goes
// with a chest that unwinds, times the root of how fast the chest turns, of late, against a
// stroke's least.
func (d *detector) force() float64 {
	if len(d.trail) == 0 {
		return 0
	}
	i := len(d.trail) - 1
	s := &d.trail[i]
	v, side := s.hitter()
	gain := 1.0
	if d.unwinds(i) || float64(s.high[side]) >= thresholds.above {
		gain = woundGain * punchGain
	}
	turn := math.Abs(d.fastestTurn(i, s.timeUS, forceReach))
	return v * gain * math.Sqrt(math.Max(turn, turnsBack)/thresholds.turn)
}

// outdone reports whether the newest sample, well after the peak of a burst of a body
// alone, is more of a stroke.
func (d *detector) outdone() bool {
	switch x := d.odds(len(d.trail) - 1); { // NaN is neither
	case x < d.b.odds:
		return false // a way back, the hand faster than in the volley
	case x >= strokeOdds && d.b.odds < strokeOdds && x > d.b.odds+speedOdds*math.Log(woundLead):
		return true
	}
	least := d.b.force
	if d.b.wound {
		least *= woundLead
	}
	f := d.force()
	return f > least || f > takeUpLead*least && d.overShoulders() && d.takesUp()
}

// overShoulders reports whether the hand of the newest sample is as high as in a serve or a smash.
func (d *detector) overShoulders() bool {
	s := &d.trail[len(d.trail)-1]
	_, side := s.hitter()
	return float64(s.high[side]) >= thresholds.above
}

// takesUp reports whether the burst's hand goes away from the net with a chest that was hardly
// wound up before, but winds up.
func (d *detector) takesUp() bool {
	wind, _, by := d.windUp()
	return wind < d.leastWind(true) && by >= homeTurn && d.heading() == away
}

// ahead returns how fast the hand goes to where the chest faced before it wound up by wind
// degrees, of which it has come back by, turning along sign: m/s, NaN where it was not seen.
func (s *sample) ahead(sign, wind, by float64) float64 {
	_, side := s.hitter()
	faced := (float64(s.facing) - sign*(by-wind)) * math.Pi / 180
	sin, cos := math.Sincos(faced) // of the line of the shoulders; the chest looks across it
	return cos*float64(s.flow[side][1]) - sin*float64(s.flow[side][0])
}

// goesForward reports whether the hand goes forward, the chest nearly back.
func (s *sample) goesForward(sign, wind, by float64) bool {
	v, _ := s.hitter()
	return v > 0 && math.Abs(by-wind) < homeTurn && s.ahead(sign, wind, by) >= forwardShare*v
}

// headed is where the hand of a body alone goes at the peak of a burst.
type headed int

const (
	unknown headed = iota
	forward        // as what meets a ball: see homeTurn
	away           // from the net: a take-back, unless the chest was wound up far before
)

// heading returns where the hand goes at the burst's peak.
func (d *detector) heading() headed {
	for i := range d.trail {
		s := &d.trail[i]
		if s.timeUS != d.b.peakUS {
			continue
		}
		sign := d.turnSign(i, s.timeUS)
		wind, by := d.unwound(i, sign)
		switch {
		case sign == 0:
		case s.goesForward(sign, wind, by):
			return forward
		case wind < thresholds.deepWind && s.ahead(sign, wind, by) < 0: // NaN is not
			return away
		}
		break
	}
	return unknown
}

// unsure reports whether a burst of a body alone may be the take-back of a stroke to
// come: its chest was not seen to unwind from far, or hand and chest are not both fast. No
// take-back has both as fast as twice a stroke's least.
func (d *detector) unsure() bool {
	wind, _, _ := d.windUp()
	v, _ := d.b.peak.hitter()
	turn := math.Abs(d.fastestTurn(len(d.trail)-1, d.b.peakUS+d.view.us(forceReach), 2*forceReach))
	d.b.wound = wind >= math.Max(d.leastWind(true), thresholds.deepWind)
	if d.heading() == away {
		return true
	}
	return !(d.b.wound && v >= thresholds.hand && v*turn >= thresholds.sure) && v*turn < 2*thresholds.sure
}

// changesOver reports whether somebody else came into view about an instant.
func (d *detector) changesOver(us int64) bool {
	for i := range d.trail {
		if d.trail[i].other && math.Abs(d.view.seconds(us, d.trail[i].timeUS)) < turnReach {
			return true
		}
	}
	return false
}

// impossible reports whether no body moves as a burst of a body alone does: a chest that
// turns fast was wound up before, by the turn it takes to speed up in, and so was one that
// takes a hand along at more than fastAlone.
func (j *verdict) impossible() bool {
	spring := math.Max(j.wind, leastSpring)
	return j.turn > math.Sqrt(2*sharpestChest*spring) || j.hand > fastAlone && !(j.wind >= thresholds.deepWind)
}
