package swing

import "math"

// doubtfulHit is for how long after it, seconds, a ball that was not plainly hit may have flown
// by in the take-back of a stroke to come. Balls are not hit again so soon.
const doubtfulHit = 0.9

// rivalWait returns how long after its peak, seconds, a burst in an image waits for a rival to take
// its place: one whose ball was not seen to be hit, but on the racket, unless the chest unwinds from
// far, the racket is too fast for a take-back and the chest was wound up, or the racket goes over the
// shoulders faster than it is taken up to hit (cameras that stand beside are asked instead); or hit, but
// not plainly, by a slow racket before a chest that was not seen to be wound up far. A slow racket about
// which no ball was seen of late may be taken back for a ball that is still to come into view.
func (d *detector) rivalWait() float64 {
	if d.b.plain || !d.tipFlat() {
		return 0
	}
	if !d.seesBall() {
		if d.b.struck || d.plain() {
			return 0
		}
		return rivalReach
	}
	if !d.b.struck {
		if odds, _ := d.meets(); odds < 0 {
			return 0
		}
		_, side := d.b.peak.hitter()
		high := float64(d.b.peak.high[side]) >= thresholds.above && float64(d.b.peak.tip) >= thresholds.tipHigh
		if wind, _, _ := d.windUp(); !d.beside && (high || wind >= thresholds.deepWind || d.plain() && wind >= d.leastWind(d.b.peak.world)) {
			return 0
		}
		return doubtfulHit
	}
	_, side := d.b.peak.hitter()
	if wind, _, _ := d.windUp(); d.plain() || wind >= thresholds.deepWind || float64(d.b.peak.high[side]) >= thresholds.above {
		return 0
	}
	return doubtfulHit
}

// movePeak puts the burst's peak where the ball was hit, when that was seen and
// the peak lies elsewhere, and reports whether it did: the end of the
// follow-through is then looked for anew.
func (d *detector) movePeak() bool {
	s := d.strike()
	if !s.hit {
		return false
	}
	d.b.struck, d.b.plain, d.b.hitUS = true, s.plain, s.atUS
	return math.Abs(d.view.seconds(s.atUS, d.b.peakUS)) >= hitNear && d.moveTo(s.atUS)
}

// missedBall reports whether balls are seen in this stream, and none of them at the
// racket of this burst: its swing may be still to come.
func (d *detector) missedBall() bool {
	if !d.seesBall() {
		return false
	}
	if d.strike().hit {
		return false
	}
	odds, _ := d.meets()
	return odds < 0
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
	if d.bodyAlone() {
		return d.unsure()
	}
	_, side := d.b.peak.hitter()
	low := !d.b.peak.world && float64(d.b.peak.high[side]) < thresholds.above
	wind, _, _ := d.windUp()
	least := d.leastWind(d.b.peak.world)
	if d.b.peak.tip == 0 { // by the hand alone, what was wound up must be plain
		least = math.Max(least, thresholds.deepWind)
	}
	return (!d.plain() || low) && !d.b.struck && !(wind >= least)
}

// plain reports whether the burst is too fast for a take-back.
func (d *detector) plain() bool {
	p := &d.b.peak
	v, _ := p.hitter()
	return float64(p.tip) >= thresholds.plain || v >= thresholds.plainHand
}
