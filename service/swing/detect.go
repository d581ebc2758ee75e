package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

// A swing is a burst of hand speed with a turn of the trunk, or of the racket.
// What tells it from the rest of a practice, in a table:
//
//	motion                    hand m/s   turn °/s   hand × turn   (recorded strokes, hand relative to the hips)
//	slowest recorded swings   3.7–4.1    290–400    1120–1600     two forehands, a volley: sudden, 0.5–0.7
//	all others                4.6–9.1    330–810    ≥ 1600
//	arm of the ball toss      3.2–4.5    100–170    ≤ 600
//	recovery after a stroke   2.9–3.8    220–280    ≤ 1070        gradual, ≤ 0.2
//	a slow practice swing     4.1        215        880
//	walking, ball bouncing    ≤ 2.5      ≤ 150
var thresholds = struct {
	hand      float64 // m/s: least peak of a wrist's speed relative to the body
	turn      float64 // deg/s: least turn rate of the shoulders about the peak
	power     float64 // m/s · deg/s: least product of the two, of a sudden swing
	sure      float64 // m/s · deg/s: least product of a gradual one
	sharp     float64 // share of the peak speed won within the last sharpTime: least for a sudden swing
	blind     float64 // m/s: least hand speed where the turn cannot be seen (an image alone), but something of a wind-up …
	blindFast float64 // m/s: … and without

	tip             float64 // m/s: least peak of the racket tip's speed relative to the body
	tipHit, handHit float64 // m/s: least tip or hand speed when the ball is seen to be hit
	tipHigh         float64 // m/s: least tip speed of a swing over the shoulders that was not seen to be wound up
	tipHighFlat     float64 // m/s: the same in an image alone
	tipHand         float64 // m/s: least hand speed with it

	tipStruck, handStruck float64 // m/s: least tip and hand speed as the ball is seen to be hit, in an image that may look along them

	backHand float64 // m/s: a hand this fast is no take-back, though the chest turns back afterwards by more than it was wound up

	fastHand float64 // m/s: a hand this fast was wound up though noise drowns how far

	deepWind float64 // deg: a chest wound up this far makes a swing of …
	deepHand float64 // m/s: … this hand speed at least …
	deepTurn float64 // deg/s: … while it unwinds this fast at least
	wound    float64 // deg: least turn of the chest the other way beforehand …
	above    float64 // m: … or height of the hand over the hips: a serve may start turned

	poised float64 // m: a hand this high over the hips has not followed through: it waits for a serve or a smash

	tossRise         float64 // share of a hand's speed that goes up, above which it is a toss or a lift
	lead             float64 // s: a peak must have this much of the stream before it
	rearm            float64 // a new swing's peak over an open one's, to take its place
	handEnd          float64 // share of the peak under which the hand has followed through
	tipEnd           float64 // the same for the tip (FOLLOW_END says 0.20)
	settle           float64 // s: after the follow-through's end, until a swing is settled
	doubt            float64 // s: the same for a weak burst, in which time the swing that it prepares would come
	plainSlow        float64 // m/s: tip speed above which a wound-up swing needs no ball where balls are seen
	plainFlat        float64 // m/s: tip speed seen in an image above which a burst needs no ball
	plain, plainHand float64 // m/s: tip and hand speed above which a burst is not weak
	longest          float64 // s: from the peak, until a swing is settled whatever follows
	rising           float64 // s: longest burst; nothing swings up for longer
}{
	hand:        3.2,
	turn:        250,
	power:       1000,
	sure:        1600,
	sharp:       0.35,
	blind:       3.4,
	blindFast:   4.2, // recoveries of recorded strokes up to 3.8
	tip:         6.0, // slow beginners' volleys 6–8 m/s; half swings and waving with the racket mostly below (no source)
	tipHit:      4.5, // a ball that breaks its flight at the hands leaves little doubt
	handHit:     2.0,
	tipHigh:     11, // beginners' serves and smashes 14 and up; the racket taken up to the trophy 6–10
	tipHighFlat: 15.5,
	tipHand:     1.6,
	tipStruck:   3.0,
	handStruck:  1.0,
	backHand:    5,   // recorded and made take-backs mostly below; a recorded forehand with a short wind-up 5.7
	fastHand:    5.8, // recorded forehands with a short wind-up 5.7 … 6.3
	deepWind:    48,  // made volleys 55 and up; what noise adds to a take-back or a recovery 45 and less
	deepHand:    2.4, // made volleys and beginners' ground strokes
	deepTurn:    80,
	wound:       18,   // recorded ground strokes and volleys 24 and up, take-backs and recoveries 5 and less
	above:       0.70, // recorded serves and smashes 0.85 and up, ground strokes 0.6 and less
	poised:      0.75,
	tossRise:    0.85,
	lead:        0.40,
	rearm:       1.0,
	handEnd:     0.35,
	tipEnd:      0.22,
	settle:      0.20, // the settled swing is due 0.25 s after FOLLOW_END
	doubt:       0.55,
	plainSlow:   7.2, // half swings up to 6.5
	plainFlat:   9,
	plain:       13,
	plainHand:   6,
	longest:     1.3,
	rising:      4.0,
}

const (
	lookBack   = 2.3  // s: a swing's window starts this long before contact at most
	highBefore = 0.10 // s: an overhead's contact, where the hand is highest, lies within this before its fastest instant …
	highAfter  = 0.16 // s: … and this after it
	// overFastest is how high over the hips, metres, a hand that hits over the head is at its fastest; a
	// ground stroke's at 0.5 at most, though it may finish over the head.
	overFastest = 0.60
	strikeSide  = 0.06 // s: hand and racket move this near to a hit
	guessReach  = 0.25 // s: contact lies this near to the burst's peak
	turnReach   = 0.30 // s: the trunk turns this near to the peak
	sharpTime   = 0.15 // s
	windReach   = 1.3  // s: the trunk was wound up within this before the peak
	windNext    = 0.6  // s: a take-back is followed by its swing's unwinding within this
)

// Candidate is a burst of motion that passes for a swing.
type Candidate struct {
	ID        string  // from the content of the frames about contact
	Camera    uint8   // whose clock the times are on, and which saw the burst
	ContactUS int64   // a guess: within 0.15 s, serves and overheads 0.2 s
	StartUS   int64   // the window: nothing outside it is used
	EndUS     int64   //
	Slow      float64 // clip seconds per real second

	SlowSD    float64 // of Slow, from the clock check; 0: not checked
	DoubtSlow bool    // nothing settles Slow: warning clock_unverified, speeds ROUGH
	DenySlow  bool    // gravity contradicts what was stated: warning clock_contradicts_gravity

	hand   float64 // m/s of real time: its top hand speed
	keepUS int64   // a stream that begins here finds it as well, on Camera's clock
}

// burst is the open motion of a detector. Its numbers come from samples since
// open alone.
type burst struct {
	on     bool
	openUS int64
	level  float64 // largest level so far
	peakUS int64   // when
	peak   sample
	endUS  int64 // the follow-through's end; 0: not seen

	struck  bool // the ball was seen to be hit at the peak
	awaits  bool // a ball is on its way that it did not hit
	doubted bool // it may be a take-back: any burst that follows takes its place
}

// detector finds candidates in the samples of one camera.
type detector struct {
	view    view
	from    int64  // µs: nothing before counts: the stream's start, or the last swing's end
	sampled uint64 // place of the next frame to sample
	cell    int64  // µs: the first frame of each cell is sampled, from all those around it; 0: every frame is
	raw     [2]sample
	raws    int
	trail   []sample // samples since a little before the burst, oldest first
	b       burst
}

// level returns how swing-like the newest sample of the trail is: 1 is the least
// a swing has. What unwinds a chest that was wound up counts for more, and a low
// hand before a chest that was not for less: that is a take-back, which may be
// faster than the swing it prepares.
func (d *detector) level(s *sample) float64 {
	v, side := s.hitter()
	l := max(v/thresholds.hand, float64(s.tip)/thresholds.tipHit)
	switch {
	case l*woundGain < 1:
	case d.unwinds(len(d.trail) - 1):
		l *= woundGain
	case s.world && float64(s.high[side]) < thresholds.above && v < thresholds.backHand && float64(s.tip) < thresholds.plain:
		l *= unwoundGain
	}
	return l
}

// What a wound chest adds to a sample's level, and what an unwound one takes.
// Recorded and made strokes: hands from 2.4 m/s at contact, hands of take-backs
// up to 5.5 m/s.
const woundGain, unwoundGain = 1.33, 0.67

// sample takes one sample in. What the burst sees is the median of three
// neighbours: a fit that an outlier got through to stands alone.
func (d *detector) sample(s sample) {
	if d.raws >= 2 {
		d.take(between(&d.raw[0], &d.raw[1], &s))
	}
	d.raw[0], d.raw[1] = d.raw[1], s
	d.raws = min(d.raws+1, 2)
}

// between returns b with each speed the median of three.
func between(a, b, c *sample) sample {
	m := *b
	if !a.ok || !b.ok || !c.ok {
		m.ok = false
		return m
	}
	for i := range m.hand {
		m.hand[i] = median(a.hand[i], b.hand[i], c.hand[i])
		m.free[i] = median(a.free[i], b.free[i], c.free[i])
		m.rise[i] = median(a.rise[i], b.rise[i], c.rise[i])
		m.high[i] = median(a.high[i], b.high[i], c.high[i])
	}
	m.turn, m.tip = median(a.turn, b.turn, c.turn), median(a.tip, b.tip, c.tip)
	return m
}

func median(a, b, c float32) float32 { return max(min(a, b), min(max(a, b), c)) }

// take moves the burst on by one sample.
func (d *detector) take(s sample) {
	d.keep(s)
	if !s.ok {
		return
	}
	l := d.level(&s)
	switch {
	case !d.b.on && l >= 1:
		d.b = burst{on: true, openUS: s.timeUS, level: l, peakUS: s.timeUS, peak: s}
	case d.b.on && !d.b.struck && (l >= thresholds.rearm*d.b.level || l >= max(1, 0.8*d.b.level) && d.b.doubted && s.timeUS > d.b.peakUS+d.view.us(0.25)):
		d.b.level, d.b.peakUS, d.b.peak, d.b.endUS, d.b.doubted, d.b.awaits = l, s.timeUS, s, 0, false, false
	case d.b.on:
		d.seeEnd(&s, l)
	}
}

// seeEnd notes the end of the follow-through, and takes it back when the
// motion rises again.
func (d *detector) seeEnd(s *sample, l float64) {
	v, _ := s.fastest()
	top, side := d.b.peak.hitter()
	over := v < thresholds.handEnd*top
	if d.b.peak.tip > 0 && s.tip > 0 {
		over = float64(s.tip) < thresholds.tipEnd*float64(d.b.peak.tip)
	}
	over = over && float64(s.high[side]) < thresholds.poised
	switch {
	case over && d.b.endUS == 0:
		d.b.endUS, d.b.doubted = s.timeUS, d.weak()
	case d.b.endUS != 0 && l > 0.6*d.b.level:
		d.b.endUS = 0
	}
}

// keep holds the samples that a verdict reads.
func (d *detector) keep(s sample) {
	old := s.timeUS - d.view.us(windReach)
	if d.b.on {
		old = d.b.openUS - d.view.us(windReach)
	}
	drop := 0
	for drop < len(d.trail) && d.trail[drop].timeUS < old {
		drop++
	}
	if drop > 0 {
		d.trail = d.trail[:copy(d.trail, d.trail[drop:])]
	}
	if len(d.trail) < maxRingFrames {
		d.trail = append(d.trail, s)
	}
}

// due reports whether the burst is over at a time, and until when its window reaches.
func (d *detector) due(nowUS int64) (endUS int64, over bool) {
	if !d.b.on {
		return 0, false
	}
	end := d.b.peakUS + d.view.us(thresholds.longest)
	if d.b.endUS != 0 && !d.b.awaits {
		wait := thresholds.settle
		if d.b.doubted {
			wait = thresholds.doubt
		}
		end = min(end, d.b.endUS+d.view.us(wait))
	}
	end = min(end, d.b.openUS+d.view.us(thresholds.rising))
	if nowUS >= end && !d.b.struck && d.movePeak() {
		return d.due(nowUS)
	}
	if nowUS < end || d.b.awaits || d.plain() || !d.ballComing() {
		return end, nowUS >= end
	}
	d.b.awaits, d.b.doubted = true, true
	return d.due(nowUS)
}

// movePeak puts the burst's peak where the ball was hit, when that was seen and
// the peak lies elsewhere, and reports whether it did: the end of the
// follow-through is then looked for anew.
func (d *detector) movePeak() bool {
	s := d.strike()
	if !s.hit {
		return false
	}
	d.b.struck = true
	at, off := -1, 0.10 // s: a peak this near is that of the hit
	if math.Abs(d.view.seconds(s.atUS, d.b.peakUS)) < off {
		return false
	}
	for i := range d.trail {
		if x := math.Abs(d.view.seconds(s.atUS, d.trail[i].timeUS)); d.trail[i].ok && x < off {
			at, off = i, x
		}
	}
	if at < 0 {
		return false
	}
	d.b.peak, d.b.peakUS, d.b.endUS = d.trail[at], d.trail[at].timeUS, 0
	for i := at + 1; i < len(d.trail); i++ {
		if d.trail[i].ok {
			d.seeEnd(&d.trail[i], 0)
		}
	}
	return true
}

// ballComing reports whether a ball is on its way that this burst has not hit:
// the burst may be the take-back for it.
func (d *detector) ballComing() bool {
	r := d.view.ring
	if !d.seesBall() {
		return false
	}
	world, scale := d.view.world, d.view.scale
	d.view.ballView(r.next - 1)
	coming := d.view.ballIsComing(r.next - 1)
	d.view.world, d.view.scale = world, scale
	return coming && !d.strike().hit
}

// weak reports whether the burst might be the take-back of a swing to come: it
// is slow for a swing, or seen in an image alone, whose metres may be off, and the
// chest was not seen to wind up before.
func (d *detector) weak() bool {
	_, side := d.b.peak.hitter()
	low := !d.b.peak.world && float64(d.b.peak.high[side]) < thresholds.above
	wind, _ := d.windUp()
	least := d.leastWind(d.b.peak.world)
	if d.b.peak.tip == 0 { // by the hand alone, what was wound up must be plain
		least = math.Max(least, thresholds.deepWind)
	}
	return (!d.plain() || low) && !d.b.struck && !(wind >= least)
}

// leastWind returns the turn, degrees, from which on the chest was wound up:
// noise alone wanders over some five standard deviations in a second, and an
// image shows a turn with less certainty.
func (d *detector) leastWind(world bool) float64 {
	sum, n := 0.0, 0.0
	for i := range d.trail {
		if b := float64(d.trail[i].blur); b > 0 {
			sum += b
			n++
		}
	}
	least := thresholds.wound + 5*sum/math.Max(n, 1)
	if !world {
		least *= 2
	}
	return least
}

// seesBall reports whether the camera has ever shown a ball.
func (d *detector) seesBall() bool {
	return d.view.ring.world[body.Ball] >= 0 || d.view.ring.image[body.Ball] >= 0
}

// tipFlat reports whether the racket was seen in an image alone.
func (d *detector) tipFlat() bool { return d.view.ring.world[body.RacketTip] < 0 && d.b.peak.tip > 0 }

// plain reports whether the burst is too fast for a take-back.
func (d *detector) plain() bool {
	p := &d.b.peak
	v, _ := p.hitter()
	return float64(p.tip) >= thresholds.plain || v >= thresholds.plainHand
}

// verdict is what a burst was judged to be, with the numbers it was judged by.
type verdict struct {
	swing     bool
	why       string
	hand, tip float64
	turn      float64
	sharp     float64
	wind      float64 // deg: how far the chest had turned the other way before
	back      float64 // deg: how far it turned the other way afterwards: it was a take-back
	high      float64 // m: highest hand over the hips
	ball      strike
	contactUS int64
}

// judge decides whether the burst was a swing.
func (d *detector) judge() verdict {
	t := &thresholds
	j := d.about(d.b.peakUS)
	j.wind, j.back = d.windUp()
	world := d.b.peak.world
	if j.ball = d.strike(); j.ball.hit && math.Abs(d.view.seconds(j.ball.atUS, d.b.peakUS)) < guessReach {
		j.contactUS = j.ball.atUS
	}
	rise, v := d.riseOfPeak()
	least := d.leastWind(world)
	wound := j.wind >= least && (j.wind >= j.back || j.hand >= t.backHand) ||
		world && j.wind >= t.wound && j.hand >= t.fastHand && j.turn >= t.turn
	deep := wound && j.wind >= t.deepWind
	tipLeast := t.tip
	if !wound && j.high >= t.above {
		tipLeast = t.tipHigh // the racket going up to the trophy is no swing yet
		if !world {
			tipLeast = t.tipHighFlat
		}
	}
	racket := j.tip >= tipLeast && j.hand >= t.tipHand
	sure := j.sharp >= t.sharp || j.hand*j.turn >= t.sure || wound
	lifted := rise > t.tossRise*v && j.turn < t.turn
	trunk := j.turn >= t.turn && j.hand*j.turn >= t.power && j.hand >= t.hand
	unwinds := world && deep && j.hand >= t.deepHand && j.turn >= t.deepTurn
	high := j.high >= t.above
	switch {
	case j.ball.hit && d.swingsAt(j.ball.atUS):
		j.swing, j.why = true, "the ball was hit"
	case d.view.seconds(d.from, j.contactUS) < t.lead:
		j.why = "too near the start of what was seen"
	case d.tipFlat() && (!world && d.weak() || j.tip < t.plainFlat && !(world && deep && !j.ball.seen && j.tip >= t.plainSlow)):
		j.why = "slow, and no ball was hit: a take-back or a recovery"
	case world && d.seesBall() && j.tip > 0 && j.tip < t.plainSlow:
		j.why = "a slow racket, and no ball was hit: a practice swing"
	case world && !wound && !high:
		j.why = "nothing was wound up before: a take-back or a recovery"
	case lifted && (world || !racket):
		j.why = "a hand going up, trunk at rest: toss or lift"
	case racket:
		j.swing, j.why = true, "racket and hand at speed"
	case j.tip > 0:
		j.why = "racket too slow"
	case unwinds:
		j.swing, j.why = true, "the hand swings as the chest unwinds"
	case j.hand < t.hand:
		j.why = "hand too slow"
	case !world:
		j.swing, j.why = j.hand >= t.blindFast || wound && j.hand >= t.blind, "by the hand alone, turn unseen"
	case trunk && sure:
		j.swing, j.why = true, "hand at speed with the trunk"
	default:
		j.why = "trunk too slow for a swing"
	}
	return j
}

// turnsBack is the turn rate, degrees a second, from which a chest that turns the
// other way than at the peak belongs to the take-back, or to the recovery.
const turnsBack = 60

// swingsAt reports whether hand and racket moved as in a stroke when the ball
// was hit: a ball that bounces beside a racket at rest is not.
func (d *detector) swingsAt(us int64) bool {
	hand, tip, seen := 0.0, 0.0, false
	for i := range d.trail {
		s := &d.trail[i]
		if s.ok && math.Abs(d.view.seconds(us, s.timeUS)) < strikeSide {
			v, _ := s.hitter()
			hand, tip = math.Max(hand, v), math.Max(tip, float64(s.tip))
			seen = true
		}
	}
	if tip == 0 {
		return seen && hand >= thresholds.handHit
	}
	return tip >= thresholds.tipStruck && hand >= thresholds.handStruck
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
	d.view.ballView(d.b.peak.place)
	s := d.view.strikeBetween(d.b.openUS-d.view.us(strikeBefore), d.b.peakUS+d.view.us(strikeAfter))
	d.view.world, d.view.scale = world, scale
	return s
}

// riseOfPeak returns the upward part and the whole of the faster hand's speed at the peak.
func (d *detector) riseOfPeak() (rise, speed float64) {
	v, side := d.b.peak.hitter()
	return float64(d.b.peak.rise[side]), v
}

// windUp returns how far the chest had turned the other way, within windReach
// before it began the turn in which the burst has its peak: degrees; NaN when
// the chest was not seen. A swing unwinds; a take-back winds up.
func (d *detector) windUp() (wind, back float64) {
	i := len(d.trail) - 1
	for i >= 0 && d.trail[i].timeUS > d.b.peakUS+d.view.us(0.05) {
		i--
	}
	sign := d.turnSign(i, d.b.peakUS)
	if sign == 0 {
		return math.NaN(), 0
	}
	wind, _ = d.unwound(i, sign)
	return wind, d.rewound(i, sign)
}

// unwinds reports whether at sample i, the newest, the chest comes back from
// having been wound up, and has come some way: at the turning point the hand may
// still be fast from the take-back.
func (d *detector) unwinds(i int) bool {
	s := &d.trail[i]
	sign := d.turnSign(i, s.timeUS)
	if sign == 0 || float64(s.turn)*sign < 0 {
		return false
	}
	wind, by := d.unwound(i, sign)
	return wind >= d.leastWind(s.world) && by >= comeBack+2*float64(s.blur)
}

// comeBack is how far, degrees, the chest of a player who hits has unwound at
// least: volleys some 25, all others more.
const comeBack = 12

// turnSign returns the sign of the chest's turn about an instant, from sample i
// back; 0 when none was seen.
func (d *detector) turnSign(i int, us int64) float64 {
	fastest := d.fastestTurn(i, us, 0.12)
	if math.Abs(fastest) < 60 {
		fastest = d.fastestTurn(i, us, turnReach)
	}
	if fastest == 0 {
		return 0
	}
	return math.Copysign(1, fastest)
}

// rewound walks on from sample i: along the turn of the given sign to where it
// ends, then along the opposite turn after it, and returns the latter's extent
// within windNext of the peak. What follows a take-back is the swing.
func (d *detector) rewound(i int, sign float64) float64 {
	angle, end, most := 0.0, 0.0, 0.0
	last := d.trail[i].facing
	for k := i + 1; k < len(d.trail) && d.view.seconds(d.b.peakUS, d.trail[k].timeUS) < windNext; k++ {
		f := d.trail[k].facing
		if f == f && last == last {
			angle += math.Remainder(float64(f-last), 360) * sign
		}
		if f == f {
			last = f
		}
		if angle > end {
			end, most = angle, 0
		}
		most = math.Max(most, end-angle)
	}
	return most
}

// fastestTurn returns the fastest turn rate in the reach seconds before an instant, from sample i back.
func (d *detector) fastestTurn(i int, us int64, reach float64) float64 {
	fastest := 0.0
	for k := i; k >= 0 && d.view.seconds(d.trail[k].timeUS, us) < reach; k-- {
		if r := float64(d.trail[k].turn); math.Abs(r) > math.Abs(fastest) {
			fastest = r
		}
	}
	return fastest
}

// unwound walks back from sample i: first along the turn of the given sign to
// where it began, then along the opposite turn before it, and returns the
// latter's extent, and how far the chest has come back since.
func (d *detector) unwound(i int, sign float64) (most, begin float64) {
	angle := 0.0
	last := d.trail[i].facing
	for k := i - 1; k >= 0; k-- {
		f := d.trail[k].facing
		if f != f || last != last {
			if f == f {
				last = f
			}
			continue
		}
		angle += math.Remainder(float64(f-last), 360) * -sign // how much further turned now than then
		last = f
		if angle > begin {
			begin, most = angle, 0
		}
		most = math.Max(most, begin-angle)
	}
	return most, begin
}
