package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

// seesBall reports whether the camera has shown a ball of late.
func (d *detector) seesBall() bool { return d.recalls || d.view.ring.seesBallSince(d.lateUS()) }

// lateUS is the time from which what the camera shows counts: frames since then are kept,
// so that a stream that resumes this one says the same of them.
func (d *detector) lateUS() int64 {
	r := d.view.ring
	switch {
	case d.b.on:
		return max(d.from, d.b.openUS-d.view.us(quietBack))
	case r.empty():
		return d.from
	}
	return max(d.from, r.last()-d.view.us(quietBack))
}

// tipFlat reports whether the racket was seen in an image alone.
func (d *detector) tipFlat() bool { return d.view.ring.world[body.RacketTip] < 0 && d.b.peak.tip > 0 }

// verdict is what a burst was judged to be, with the numbers it was judged by.
type verdict struct {
	swing     bool
	slow      bool // refused for what an image showed of the speed of hand, racket or chest alone
	why       string
	hand, tip float64
	turn      float64
	sharp     float64
	wind      float64 // deg: how far the chest had turned the other way before
	back      float64 // deg: how far it turned the other way afterwards: it was a take-back
	high      float64 // m: highest hand over the hips
	goes      headed  // of a body alone …
	odds      float64 // … and its log-odds; NaN: not known
	ball      strike
	met       bool // a swing, for the ball was on the racket as the chest unwound
	contactUS int64
}

// judge decides whether the burst was a swing.
func (d *detector) judge() verdict {
	t := &thresholds
	j := d.about(d.b.peakUS)
	var by float64
	j.odds = math.NaN()
	j.wind, j.back, by = d.windUp()
	world := d.b.peak.world
	if j.ball = d.strike(); j.ball.hit && math.Abs(d.view.seconds(j.ball.atUS, d.b.peakUS)) < guessReach {
		j.contactUS = j.ball.atUS
	}
	rise, v := d.riseOfPeak()
	least := d.leastWind(world)
	met := d.met(&j, by)
	wound := j.wind >= least && (j.wind >= j.back || j.hand >= t.backHand) ||
		world && j.wind >= t.wound && j.turn >= t.turn &&
			(j.hand >= t.fastHand || j.hand >= t.backHand && j.sharp >= t.sharp && j.hand*j.turn >= t.sure)
	if d.bodyAlone() {
		j.goes = d.heading()
		if j.odds = d.oddsAbout(d.b.peakUS, oddsReach); d.b.arm {
			j.contactUS = d.freest(d.b.peakUS)
		}
	}
	deep := wound && j.wind >= t.deepWind
	tipLeast := t.tip
	unmet := d.seesBall() && !met && !j.ball.flying
	if j.high >= t.above && (!wound || unmet && d.tipFlat()) {
		tipLeast = t.tipHigh // the racket going up to the trophy is no swing yet
		if !world || unmet && d.tipFlat() {
			tipLeast = t.tipHighFlat
		}
	}
	racket := j.tip >= tipLeast && j.hand >= t.tipHand
	sure := j.sharp >= t.sharp || j.hand*j.turn >= t.sure || wound
	lifted := rise > t.tossRise*v && j.turn < t.turn
	trunk := j.turn >= t.turn && j.hand*j.turn >= t.power && j.hand >= t.hand
	unwinds := world && deep && j.hand >= t.deepHand && j.turn >= t.deepTurn
	switch {
	case j.high >= t.overhead: // a lift, a stretch, the way to the trophy, unless the chest turns with it
		unwinds = unwinds && trunk
		sure = sure || trunk
	case j.high < t.low: // bent down the chest has no heading to speak of
		unwinds = unwinds && (j.hand >= t.hand || j.goes == forward)
	}
	switch {
	case j.hand >= t.handFree && j.turn < t.turnFree: // so fast a hand goes with the chest: an estimator's slip
		unwinds = false
	case j.hand < t.punchHand: // a short volley is sudden, and its hand no slower than the chest takes it along
		unwinds = unwinds && (j.sharp >= t.punchSharp && j.turn <= t.punchTurn || j.goes == forward)
	}
	high := j.high >= t.above
	unwinds = unwinds && (high || !d.bodyAlone() || !(d.oddsAbout(d.b.peakUS, unlikeReach) < unlikeOdds))
	farFlat := !world && j.wind >= 2*t.deepWind && j.turn >= t.turn && j.hand >= t.hand && j.high >= t.low // no take-back unwinds so
	inImage := d.view.ring.world[body.RacketTip] < 0
	switch {
	case j.ball.hit && d.swingsAt(j.ball.atUS, j.ball.plain, j.ball.asks) && (wound || high || j.ball.plain || !world && !j.ball.bounce):
		j.swing, j.why = true, "the ball was hit"
	case j.hand > fastestHand || j.turn > fastestTurn:
		j.why = "no hand is so fast: somebody else came into view, or points were mistaken"
	case d.view.flickers(j.contactUS) || world && d.torn(j.contactUS):
		j.why = "now one person is seen, now another"
	case d.view.seconds(d.from, j.contactUS) < t.lead:
		j.why = "too near the start of what was seen"
	case d.bodyAlone() && (!high && j.impossible() || d.changesOver(d.b.peakUS)):
		j.why = "no chest speeds up so fast: somebody else came into view, or points were mistaken"
	case !j.ball.hit && !(met && wound) && j.hand > fastAlone && j.turn < thresholds.turnFree:
		j.why = "no arm is so fast before a chest at rest: points were mistaken"
	case (d.bodyAlone() || j.tip == 0 && !j.ball.hit) && j.high < hangs:
		j.why = "the hand hangs: no stroke"
	case d.bodyAlone() && j.wind > farthestWind && j.hand < t.blindFast:
		j.why = "slow for a chest that was turned so far: it comes back from a stroke"
	case d.b.arm && j.odds >= strokeOdds:
		j.swing, j.why = true, "the hand goes ahead out of a wound chest"
	case j.goes == away && (!high || j.wind < t.wound && by >= homeTurn):
		j.why = "the hand goes away from the net, and little was wound up before: a take-back"
	case met && wound:
		j.met = true
		j.swing, j.why = true, "the racket met the ball as the chest unwinds"
	case world && inImage && trunk && deep && j.hand >= t.blindFast && (j.tip == 0 || j.tip >= t.tipHit) && !j.ball.flying:
		j.swing, j.why = true, "hand at speed as the chest unwinds from far"
	case !j.ball.hit && !met && j.tip < t.plain && d.changesOver(j.contactUS):
		j.why = "somebody else came into view, and no ball was hit"
	case d.tipFlat() && (!world && d.weak() || unmet && j.tip < t.plainAlone && !(farFlat && j.tip >= t.plainFlat) || j.tip < t.plainFlat && !(world && deep && !j.ball.seen && j.tip >= t.plainDeep)):
		j.slow, j.why = !world, "slow, and no ball was hit: a take-back or a recovery"
	case world && d.seesBall() && j.tip > 0 && j.tip < t.plainSlow:
		j.why = "a slow racket, and no ball was hit: a practice swing"
	case world && !inImage && d.seesBall() && !met && !j.ball.hit && !high && j.tip > 0 && j.wind*j.tip < t.plainWind:
		j.why = "little was wound up, the racket was not fast, and no ball was hit: a recovery or a practice swing"
	case world && !wound && !high:
		j.why = "nothing was wound up before: a take-back or a recovery"
	case lifted && (world || !racket):
		j.slow, j.why = !world, "a hand going up, trunk at rest: toss or lift"
	case racket && unmet && d.tipFlat() && j.tip > t.tipAlone*j.hand:
		j.why = "the racket turned about a hand that hardly moved, and no ball was hit: a take-back"
	case racket:
		j.swing, j.why = true, "racket and hand at speed"
	case j.tip > 0:
		j.slow, j.why = !world, "racket too slow"
	case unwinds:
		j.swing, j.why = true, "the hand swings as the chest unwinds"
	case !world && j.wind >= t.deepWind && j.turn >= t.turn && j.hand >= t.blindTurn && j.hand*j.turn >= t.power:
		j.swing, j.why = true, "the chest unwinds, the hand in part along the line of sight"
	case j.hand < t.hand:
		j.slow, j.why = true, "hand too slow"
	case !world:
		j.swing, j.why = j.hand >= t.blindFast || wound && j.hand >= t.blind, "by the hand alone, turn unseen"
		j.slow = !j.swing
	case trunk && sure:
		j.swing, j.why = true, "hand at speed with the trunk"
	default:
		j.why = "trunk too slow for a swing"
	}
	return j
}

// tornBlur is what of a heading's fit over turnHalf noise makes at most, degrees, in a
// phone's world points (7 and less about made and recorded strokes but for single frames with
// left and right swapped), and tornOver by how many times it must exceed the stream's own.
const tornBlur, tornOver = 25, 4

// torn reports whether the shoulders about an instant lie on no one chest's way.
func (d *detector) torn(us int64) bool {
	most, sum, n := 0.0, 0.0, 0.0
	for i := range d.trail {
		s := &d.trail[i]
		b := float64(s.blur)
		if !s.ok || !(b > 0) {
			continue
		}
		sum += b
		n++
		if math.Abs(d.view.seconds(us, s.timeUS)) < sharpTime {
			most = math.Max(most, b)
		}
	}
	return most > math.Max(tornBlur, tornOver*sum/math.Max(n, 1))
}

// fastestTurn is the fastest turn of a chest, degrees a second: those of professional servers
// reach 900 (Fleisig et al. 2003, from memory).
const fastestTurn = 1000

// turnsBack is the turn rate, degrees a second, from which a chest that turns the
// other way than at the peak belongs to the take-back, or to the recovery.
const turnsBack = 60

// swingsAt reports whether hand and racket moved as in a stroke when the ball
// was hit: a ball that bounces beside a racket at rest is not. A plain hit leaves
// little to ask, one that is sure little more than the share asks.
func (d *detector) swingsAt(us int64, plain bool, asks float64) bool {
	hand, tip, world := d.speedsAt(us)
	switch {
	case hand >= thresholds.handHit && (tip == 0 || world):
		return true
	case plain && tip >= thresholds.tipPlain:
		return true
	}
	return tip*hand >= asks*thresholds.tipStruck*thresholds.handStruck && tip >= thresholds.tipStruck/2 && hand >= thresholds.handStruck/2
}

// speedsAt returns the largest speeds of the hand that may hit and of the racket's
// tip within strikeSide of an instant, m/s, 0 where not seen, and whether the hand's is
// one in the world.
func (d *detector) speedsAt(us int64) (hand, tip float64, world bool) {
	for i := range d.trail {
		s := &d.trail[i]
		if s.ok && math.Abs(d.view.seconds(us, s.timeUS)) < strikeSide {
			v, _ := s.hitter()
			hand, tip, world = math.Max(hand, v), math.Max(tip, float64(s.tip)), s.world
		}
	}
	return hand, tip, world
}

// about gathers the largest speeds about the peak, and the instant at which
// the faster wrist (the tip where it is seen) moves fastest in free axes.
func (d *detector) about(peakUS int64) verdict {
	j := verdict{contactUS: peakUS}
	top, side := d.b.peak.hitter()
	if d.b.peak.racket < 0 {
		side = d.overHead(side, peakUS)
	}
	best, sign, over := 0.0, float64(d.b.peak.turn), false
	before := d.view.us(sharpTime)
	for i := range d.trail {
		s := &d.trail[i]
		away := math.Abs(d.view.seconds(peakUS, s.timeUS))
		if !s.ok || s.timeUS < d.from || away > turnReach {
			continue
		}
		v, _ := s.hitter()
		if s.timeUS <= peakUS-before {
			j.sharp = 1 - v/top
		}
		j.turn = math.Max(j.turn, math.Abs(float64(s.turn)))
		j.hand, j.tip = math.Max(j.hand, v), math.Max(j.tip, float64(s.tip))
		j.high = math.Max(j.high, float64(s.high[side]))
		back := s.world && float64(s.turn)*sign < 0 && math.Abs(float64(s.turn)) > turnsBack
		if v = float64(s.free[side]); away <= guessReach && v > best && s.mayHit(side) && !back {
			best, j.contactUS, over = v, s.timeUS, s.high[side] > overFastest
		}
	}
	if j.high >= thresholds.above && over {
		j.contactUS = d.highest(side, j.contactUS)
	}
	return j
}

// overHead returns the side of the hand that goes over the head at a peak or just
// after it, else the given one: the support arm, tucked in before a serve's contact,
// may be the faster.
func (d *detector) overHead(side int, us int64) int {
	top := [2]float64{}
	for i := range d.trail {
		s := &d.trail[i]
		if t := d.view.seconds(us, s.timeUS); s.ok && t >= -strikeSide && t <= guessReach {
			for k := range top {
				top[k] = math.Max(top[k], float64(s.high[k]))
			}
		}
	}
	if other := 1 - side; top[other] > thresholds.above && top[other] > top[side] {
		return other
	}
	return side
}

// highest returns when the hand on a side is highest, from highBefore before an
// instant to highAfter after it. Serves and smashes are hit there: a recorded
// server's wrist is fastest on the way up and again on the way down, 0.06 s before
// its top and 0.15 s after.
func (d *detector) highest(side int, us int64) int64 {
	top, at := math.Inf(-1), us
	for i := range d.trail {
		s := &d.trail[i]
		if t := d.view.seconds(us, s.timeUS); s.ok && t >= -highBefore && t <= highAfter && float64(s.high[side]) > top {
			top, at = float64(s.high[side]), s.timeUS
		}
	}
	return at
}

// strike looks for the ball's part in the burst, up to the newest frame.
func (d *detector) strike() strike {
	world, scale := d.view.world, d.view.scale
	d.view.ballView(d.view.ring.since(d.b.peak.timeUS))
	s := d.view.strikeBetween(d.b.openUS-d.view.us(strikeBefore), d.b.peakUS+d.view.us(strikeAfter), d.b.peakUS)
	d.view.world, d.view.scale = world, scale
	return s
}

// riseOfPeak returns the upward part and the whole of the faster hand's speed at the peak.
func (d *detector) riseOfPeak() (rise, speed float64) {
	v, side := d.b.peak.hitter()
	return float64(d.b.peak.rise[side]), v
}
