package swing

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
	blindTurn float64 // m/s: the same where the chest shows in the image to unwind from deepWind by a swing's turn and power

	tip             float64 // m/s: least peak of the racket tip's speed relative to the body
	tipHit, handHit float64 // m/s: least tip or hand speed when the ball is seen to be hit
	tipHigh         float64 // m/s: least tip speed of a swing over the shoulders that was not seen to be wound up
	tipHighFlat     float64 // m/s: the same in an image alone
	tipHand         float64 // m/s: least hand speed with it
	tipAlone        float64 // greatest ratio of the two in an image where no ball was hit: the racket's loop at the end of a take-back

	tipPlain              float64 // m/s: least tip speed as a ball is plainly hit
	tipStruck, handStruck float64 // m/s: tip and hand speed as the ball is seen to be hit, in an image that may look along them: what one lacks, to a half, the other makes up

	backHand float64 // m/s: a hand this fast is no take-back, though the chest turns back afterwards by more than it was wound up

	fastHand float64 // m/s: a hand this fast was wound up though noise drowns how far, as is one of backHand that is sudden and sure

	deepWind float64 // deg: a chest wound up this far makes a swing of …
	deepHand float64 // m/s: … this hand speed at least …
	deepTurn float64 // deg/s: … while it unwinds this fast at least
	wound    float64 // deg: least turn of the chest the other way beforehand …
	above    float64 // m: … or height of the hand over the hips: a serve may start turned

	punchHand, punchSharp, punchTurn float64 // m/s, 1, deg/s: a hand slower than this is that of a short volley, which is as sudden and turns no faster
	handFree, turnFree               float64 // m/s, deg/s: a hand this fast goes with a chest that turns this fast at least

	overhead float64 // m: a hand this high over the hips hits over the head, or not at all: then the chest turns fast
	low      float64 // m: a hand that stays under this is bent down to something, unless it is fast

	poised float64 // m: a hand this high over the hips has not followed through: it waits for a serve or a smash

	tossRise         float64 // share of a hand's speed that goes up, above which it is a toss or a lift
	lead             float64 // s: a peak must have this much of the stream before it
	rearm            float64 // a new swing's peak over an open one's, to take its place
	handEnd          float64 // share of the peak under which the hand has followed through
	tipEnd           float64 // the same for the tip (FOLLOW_END says 0.20)
	settle           float64 // s: after the follow-through's end, until a swing is settled
	doubt            float64 // s: the same for a weak burst, in which time the swing that it prepares would come
	plainSlow        float64 // m/s: tip speed above which a wound-up swing needs no ball where balls are seen …
	plainWind        float64 // deg · m/s: … if the product of what was wound up and the tip's speed is this at least, both seen in the world
	plainDeep        float64 // m/s: … and above which one that is wound up far does in an image, its ball out of view
	plainFlat        float64 // m/s: tip speed seen in an image above which a burst needs no ball
	plainAlone       float64 // m/s: the same where balls are seen, but none at the racket
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
	blindTurn:   2.7, // recorded forehands seen from behind or in front 2.9 and up
	tip:         6.0, // slow beginners' volleys 6–8 m/s; half swings and waving with the racket mostly below (no source)
	tipHit:      4.5, // a ball that breaks its flight at the hands leaves little doubt
	handHit:     2.0,
	tipHigh:     11, // beginners' serves and smashes 14 and up; the racket taken up to the trophy 6–10
	tipHighFlat: 15.5,
	tipHand:     1.6,
	tipAlone:    5.5, // made strokes 2 … 5 seen from the side, take-backs' loops 6 and up
	tipPlain:    1.5,
	tipStruck:   3.0,
	handStruck:  1.0,
	backHand:    5,   // recorded and made take-backs mostly below; a recorded forehand with a short wind-up 5.7
	fastHand:    5.8, // recorded forehands with a short wind-up 5.7 … 6.3
	deepWind:    48,  // made volleys 55 and up; what noise adds to a take-back or a recovery 45 and less
	deepHand:    1.9, // made volleys and beginners' ground strokes
	deepTurn:    80,
	wound:       18,   // recorded ground strokes and volleys 24 and up, take-backs and recoveries 5 and less
	above:       0.70, // recorded serves and smashes 0.85 and up, ground strokes 0.6 and less
	punchHand:   2.5,
	punchSharp:  0.30,
	punchTurn:   300, // the chest alone carries a hand 0.45 m from its axis along at 2.4 m/s
	handFree:    4.5,
	turnFree:    150, // recorded and made strokes 170 and up
	overhead:    0.85,
	low:         0.20, // made slices of 3.3 m/s and faster go as low, picking up a ball 3.2 and slower
	poised:      0.75,
	tossRise:    0.85,
	lead:        0.40,
	rearm:       1.0,
	handEnd:     0.35,
	tipEnd:      0.22,
	settle:      0.20, // the settled swing is due 0.25 s after FOLLOW_END
	doubt:       0.55,
	plainDeep:   7.2,
	plainWind:   432, // a chest wound up far (deepWind) before a racket at plainSlow, or the one less and the other more; made recoveries 285 … 395, practice swings 1000 and up
	plainSlow:   9,   // half swings of made players up to 7.7
	plainFlat:   9,
	plainAlone:  13, // take-backs of made strokes up to 12.4 as an image shows them
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

	hand   float64  // m/s of real time: its top hand speed
	ball   float64  // m/s of real time: by how much a ball that was hit turned; 0: none was
	keepUS int64    // a stream that begins here finds it as well, on Camera's clock
	keep   []uint32 // … but must begin here, of each camera, for what was remembered before; nil: not so
	apart  [maxCameras]apart
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

	struck  bool    // the ball was seen to be hit at the peak
	plain   bool    // … in a way that leaves no doubt
	sure    float64 // by how many standard deviations its velocity changed then
	hitUS   int64   // when; 0: it was not
	missed  bool    // balls are seen, but none was at the racket: perhaps the take-back
	awaits  bool    // a ball is on its way that it did not hit
	doubted bool    // it may be a take-back: any burst that follows takes its place

	// Of a body alone (see bodyalone.go): how much of a stroke the peak is, and whether the
	// chest was seen to unwind from far.
	force float64
	odds  float64 // the log-odds that it is one; NaN: not known
	arm   bool    // they are those of a stroke of the arm alone
	wound bool
}

// detector finds candidates in the samples of one camera.
type detector struct {
	view    view
	from    int64  // µs: nothing before counts: the stream's start, or the last swing's end
	sampled uint64 // place of the next frame to sample
	raw     [2]sample
	raws    int
	trail   []sample // samples since a little before the burst, oldest first
	watched uint64   // place of the next frame to look for a hit at
	b       burst
	beside  bool // other cameras see the player, too
	told    foretold
	recalls bool // balls are seen: the last swing had one
}

// level returns how swing-like the newest sample of the trail is: 1 is the least
// a swing has. What unwinds a chest that was wound up counts for more, and a low
// hand before a chest that was not for less: that is a take-back, which may be
// faster than the swing it prepares.
func (d *detector) level(s *sample) float64 {
	v, side := s.hitter()
	l := max(v/thresholds.hand, float64(s.tip)/thresholds.tipHit)
	switch by := d.oddsLevel(); {
	case by >= 1: // as one that unwinds
		l = max(l*woundGain*punchGain, min(by, oddsLead))
	case l*woundGain*punchGain < 1 && !(d.beside && l*woundGain*punchGain*besideGain >= 1 && !s.world):
	case d.unwinds(len(d.trail) - 1):
		l *= woundGain
		if s.tip == 0 || l < 1 && d.view.ballMeets(d.view.ring.since(s.timeUS)) < headPunch {
			l *= punchGain
		}
		if d.beside && l < 1 && !s.world {
			l *= besideGain
		}
	case s.world && float64(s.high[side]) < thresholds.above && v < thresholds.backHand && float64(s.tip) < thresholds.plain:
		l *= unwoundGain
	}
	return l
}

// What a wound chest adds to a sample's level, and what an unwound one takes.
// Recorded and made strokes: hands from 2.4 m/s at contact, hands of take-backs
// up to 5.5 m/s.
const woundGain, unwoundGain = 1.33, 0.67

// punchGain is what a wound chest adds besides where no racket is seen, or too slow a one with a
// ball within headPunch of its head, of headReach: the hand of a short volley is at 1.9 m/s or more.
const punchGain, headPunch = 1.25, 0.5

// besideGain is what it adds besides in one of several images: the swing may go along this one's
// line of sight, and the cameras beside it are asked before it is refused for being slow.
const besideGain = 1.5

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
		for k := range m.flow[i] {
			m.flow[i][k] = median(a.flow[i][k], b.flow[i][k], c.flow[i][k])
		}
		for k := range m.wide[i] {
			m.wide[i][k] = median(a.wide[i][k], b.wide[i][k], c.wide[i][k])
		}
		m.high[i] = median(a.high[i], b.high[i], c.high[i])
	}
	m.turn, m.tip = median(a.turn, b.turn, c.turn), median(a.tip, b.tip, c.tip)
	return m
}

func median(a, b, c float32) float32 { return max(min(a, b), min(max(a, b), c)) }

// take moves the burst on by one sample.
func (d *detector) take(s sample) {
	d.keep(s)
	d.watchBall(s.timeUS)
	d.watchTold(s.timeUS)
	if !s.ok {
		return
	}
	l := d.level(&s)
	switch {
	case !d.b.on && l >= 1:
		d.b = burst{on: true, openUS: s.timeUS, level: l, peakUS: s.timeUS, peak: s, force: d.force(), odds: d.odds(len(d.trail) - 1), arm: d.oddsLevel() >= 1}
	case d.b.on && d.overtakes(l, s.timeUS):
		d.b = burst{on: true, openUS: d.b.openUS, level: l, peakUS: s.timeUS, peak: s, force: d.force(), odds: d.odds(len(d.trail) - 1), arm: d.oddsLevel() >= 1}
	case d.b.on:
		d.seeEnd(&s, l)
	}
}

// struckLead is by how much a level must exceed that of a burst whose ball turned, but
// not plainly, to take its place: the racket seems to meet a ball that flies past
// behind it, and is then no faster than in a take-back, half as fast as the swing.
const struckLead = 1.6

// overtakes reports whether a sample of a level has the burst's peak from now on.
func (d *detector) overtakes(l float64, us int64) bool {
	switch b := &d.b; {
	case b.plain:
		return false
	case b.struck:
		return l >= struckLead*max(1, b.level)
	case d.bodyAlone() && us > b.peakUS+d.view.us(sameBurst):
		return l >= 1 && d.outdone()
	case l >= thresholds.rearm*b.level:
		return true
	default:
		return b.doubted && l >= max(1, 0.8*b.level) && us > b.peakUS+d.view.us(0.25)
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
	if n := len(d.trail); n < maxRingFrames {
		if n == cap(d.trail) { // by little: five lanes have a trail each
			d.trail = append(make([]sample, 0, n+max(trailStep, n/8)), d.trail...)
		}
		d.trail = append(d.trail, s)
	}
}

// trailStep is by how many samples, at least, a trail grows.
const trailStep = 8

// due reports whether the burst is over at a time, and until when its window reaches.
func (d *detector) due(nowUS int64) (endUS int64, over bool) {
	if !d.b.on {
		return 0, false
	}
	end := d.b.peakUS + d.view.us(thresholds.longest)
	if d.b.endUS != 0 && !d.b.awaits {
		wait := thresholds.settle
		if d.b.doubted || d.b.missed {
			wait = thresholds.doubt
		}
		if d.b.doubted && d.bodyAlone() {
			return min(end, d.b.endUS+d.view.us(thresholds.settle)), nowUS >= d.b.peakUS+d.view.us(rivalReach)
		}
		end = min(end, max(d.b.endUS+d.view.us(wait), d.b.lastUS()+d.view.us(followLeast)))
	}
	end = min(end, d.b.openUS+d.view.us(thresholds.rising))
	if nowUS >= end && !d.b.struck && d.movePeak() {
		return d.due(nowUS)
	}
	if nowUS >= end && !d.b.struck && !d.b.missed && d.missedBall() {
		d.b.missed = true
		return d.due(nowUS)
	}
	if nowUS < end || d.b.awaits || d.plain() || !d.ballComing() {
		return end, nowUS >= end && nowUS >= d.b.peakUS+d.view.us(d.rivalWait())
	}
	d.b.awaits, d.b.doubted = true, true
	return d.due(nowUS)
}

// followLeast is how long after it met the ball, seconds, a racket follows through at least:
// an image that looks along its way may show it at rest before.
const followLeast = 0.35

// lastUS is when the burst met the ball as far as is known: its peak or its hit.
func (b *burst) lastUS() int64 { return max(b.peakUS, b.hitUS) }
