package swing

import "math"

// Of a body alone no one number tells a short volley: its hand is no faster than one that goes back to
// the waiting position (2 m/s), its chest turns no faster than noise has it turn. But what is measured goes
// together: the hand goes to where the chest faced before it wound up, the chest is nearly back, the other hand
// rests. So what each tells is added up to the log-odds of a stroke, as in a logistic regression. They open and
// pass the burst of an arm that strikes alone, and refuse slow hands before a chest that unwinds.
//
// The weights are those by which made strokes under the shoulders (540, of eight practices) part best from what
// players do between them (half swings, walks, balls picked up and bounced), rounded. Halves of the practices give
// those of speed, direction and wind-up to a fourth, of home and of the other hand to a factor of two; rise is hardly
// told. No weight was fitted to recorded players or to the other simulators; armTurn and armWind were set so that
// a recorded player's half swing does not pass.
const (
	// speedOdds is for a hand e times as fast: noise and what is not a stroke thin out with the speed's fifth power.
	speedOdds = 5.3
	// aheadOdds is for a hand that goes to where the chest faced before, against one that goes across.
	aheadOdds = 2.5
	// windOdds is for each degree that the chest was wound up, up to windMost: every stroke winds up so far at least.
	windOdds, windMost = 0.18, 50.0
	// homeOdds is for each degree that the chest is away from where it was before, up to homeMost, on either side.
	homeOdds, homeMost = -0.024, 100.0
	// byOdds is for each degree under byLeast that the chest has come back: at the turning point the
	// hand may be fast from the take-back.
	byOdds, byLeast = -0.27, 15.0
	// riseOdds is for a hand that goes straight up, against a level one: the way back to the waiting position.
	riseOdds = -0.5
	// lowOdds is for each metre under lowFrom over the hips, up to lowMost: hands hang there, or
	// reach down; but a recorded player's forehand met a low ball 0.05 m under them.
	lowOdds, lowFrom, lowMost = -13.0, 0.2, 0.15
	// otherOdds is for another hand as fast: both come back to the racket after a stroke, and both swing in a walk.
	otherOdds = -2.0
	// baseOdds make the sum the log-odds among instants at which a hand is fastest for a while.
	baseOdds = -4.0

	// strokeOdds is from which log-odds on it is called a stroke. What is none has more often some chance
	// likeness than a regression foretells: on five practices more (402 strokes) made misses and false ones are as many
	// from here on, not from 0.
	strokeOdds = 7.0

	// armTurn is how fast the chest turns at most, deg/s, as an arm strikes alone: made volleys 60 in the middle, 130
	// in one of ten; ground strokes 230 in the middle. Hands that go with a faster chest are asked for speed and power.
	armTurn = 140

	// armWind is how far it was wound up before at most, degrees: made volleys 80 in one of ten; a recorded
	// player who comes back from a ground stroke, the hand as fast, is turned by 103 to 180.
	armWind = 100

	// oddsLead is the greatest level that the odds give a hand by themselves: beyond it the faster one leads.
	oddsLead = 1.2

	// oddsReach is how near to the peak of a burst, seconds, they are looked for: a hand's speed is
	// at its most for so long, and noise moves the peak about in it.
	oddsReach = 0.1

	// A slow hand before a chest that unwinds is refused whose odds are under unlikeOdds everywhere within
	// unlikeReach, seconds, of the peak: a two-hander has both hands as fast, which costs it otherOdds.
	unlikeOdds, unlikeReach = strokeOdds - 1, 0.2
)

// showing is what a body alone shows of a stroke at an instant.
type showing struct {
	known bool
	side  int     // of the hand
	speed float64 // m/s: the hand's, over wideHalf
	rise  float64 // share of it that goes up, −1 to 1
	other float64 // speed of the other hand over it, 0 to 1
	high  float64 // m: the hand over the hips
	wind  float64 // deg: how far the chest was wound up
	odds  float64 // log-odds of a stroke
}

// show reads what sample i shows; not known is it where no hand may hit or no chest is seen.
func (d *detector) show(i int) (o showing) {
	s := &d.trail[i]
	v := [2]float64{}
	for k := range v {
		w := &s.wide[k]
		v[k] = math.Sqrt(float64(w[0]*w[0] + w[1]*w[1] + w[2]*w[2]))
		if v[k] > o.speed && s.mayGoHit(k, float64(w[2]), v[k]) {
			o.speed, o.side, o.known = v[k], k, true
		}
	}
	if o.known = o.known && s.facing == s.facing; !o.known {
		return o
	}
	w := &s.wide[o.side]
	o.rise, o.high = float64(w[2])/o.speed, float64(s.high[o.side])
	o.other = math.Min(v[1-o.side]/o.speed, 1)
	low := math.Min(math.Max(lowFrom-o.high, 0), lowMost)
	o.odds = baseOdds + speedOdds*math.Log(o.speed) + riseOdds*o.rise + lowOdds*low + otherOdds*o.other
	const most = aheadOdds + windOdds*windMost
	if o.odds+most < strokeOdds {
		o.odds += most // less than a stroke whatever the chest does
		return o
	}
	a, windA := d.chestOdds(i, o.side, -1)
	b, windB := d.chestOdds(i, o.side, 1)
	if o.wind = windB; a > b {
		o.wind = windA
	}
	o.odds += math.Max(a, b)
	return o
}

// chestOdds is what the chest adds to the log-odds, and where the hand goes, if it turns along sign;
// wind is how far it was wound up then, degrees.
func (d *detector) chestOdds(i, side int, sign float64) (odds, wind float64) {
	s := &d.trail[i]
	wind, by := d.woundFrom(i, sign)
	sin, cos := math.Sincos((float64(s.facing) - sign*(by-wind)) * math.Pi / 180) // see ahead
	x, z, y := float64(s.wide[side][0]), float64(s.wide[side][1]), float64(s.wide[side][2])
	ahead := (cos*z - sin*x) / math.Sqrt(x*x+y*y+z*z)
	return aheadOdds*ahead + windOdds*math.Min(wind, windMost) + homeOdds*math.Min(math.Abs(by-wind), homeMost) +
		byOdds*math.Max(byLeast-by, 0), wind
}

// woundFrom returns how far the chest was turned against sign within windReach before sample i, from where it was
// before that, and how far it has come back since, degrees.
func (d *detector) woundFrom(i int, sign float64) (wind, by float64) {
	angle, least := 0.0, 0.0
	last := d.trail[i].facing
	for k := i - 1; k >= 0 && !d.trail[k+1].other && d.view.seconds(d.trail[k].timeUS, d.trail[i].timeUS) < windReach; k-- {
		f := d.trail[k].facing
		if f != f {
			continue
		}
		angle += math.Remainder(float64(f-last), 360) * -sign // how much further turned now than then
		last = f
		if angle > by {
			by, least = angle, angle
		}
		least = math.Min(least, angle)
	}
	return by - least, by
}

// mayGoHit is mayHit of a hand that goes up by rise of its speed, m/s, over wideHalf.
func (s *sample) mayGoHit(side int, rise, speed float64) bool {
	switch {
	case s.racket >= 0 && int(s.racket) != side:
		return false
	case math.Abs(float64(s.turn)) < thresholds.turn && rise > thresholds.tossRise*speed:
		return false
	}
	return !(s.high[side] > aloft && rise < -dropping*speed)
}

// odds are the log-odds of a stroke at sample i of a body alone; NaN where they are not known,
// and over the shoulders, where hand and chest go otherwise.
func (d *detector) odds(i int) float64 {
	if o := d.show(i); o.known && o.high < thresholds.above {
		return o.odds
	}
	return math.NaN()
}

// oddsLevel returns how swing-like the newest sample of the trail is as a stroke of the arm alone: 1 is the least a
// swing has, and it goes with the hand's speed; 0 where the chest swings too, or nothing is known.
func (d *detector) oddsLevel() float64 {
	i := len(d.trail) - 1
	if !d.bodyAlone() || math.Abs(float64(d.trail[i].turn)) > armTurn {
		return 0
	}
	if o := d.show(i); o.known && o.high < thresholds.above && o.wind <= armWind {
		return math.Exp((o.odds - strokeOdds) / speedOdds)
	}
	return 0
}

// oddsAbout are the largest within reach seconds of an instant; NaN where none are known.
func (d *detector) oddsAbout(us int64, reach float64) float64 {
	most := math.NaN()
	for i := range d.trail {
		if s := &d.trail[i]; s.ok && math.Abs(d.view.seconds(us, s.timeUS)) <= reach {
			if x := d.odds(i); x == x && !(x <= most) {
				most = x
			}
		}
	}
	return most
}

// freest returns when the hand that shows a stroke moves fastest in the axes given, within oddsReach of an instant.
func (d *detector) freest(us int64) int64 {
	best, at := 0.0, us
	for i := range d.trail {
		if s := &d.trail[i]; s.ok && math.Abs(d.view.seconds(us, s.timeUS)) <= oddsReach {
			if o := d.show(i); o.known && float64(s.free[o.side]) > best {
				best, at = float64(s.free[o.side]), s.timeUS
			}
		}
	}
	return at
}
