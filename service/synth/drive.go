package synth

import (
	"math"

	"example.com/courtkin/service/body"
)

// hit describes one coordinate's forward swing: from a value, through hit at
// contact, half way mid seconds after contact (before when negative), over span
// seconds; skew > 0 speeds up in less time than it slows down.
type hit struct{ from, hit, mid, span, skew float64 }

// lead is the time from the start of the move to its half way: the root of
// x + s·x(1 − x) = ½, as a share of the span.
func (h hit) lead() float64 {
	if math.Abs(h.skew) < 1e-9 {
		return h.span / 2
	}
	a := 1 + h.skew
	return h.span * (a - math.Sqrt(a*a-2*h.skew)) / (2 * h.skew)
}

// end is where the coordinate must be bound for it to pass hit at contact.
func (h hit) end() float64 {
	x := (h.lead() - h.mid) / h.span
	return h.from + (h.hit-h.from)/step7(x+h.skew*x*(1-x))
}

// pass appends the forward swing to the coordinate; pace stretches its time.
func (c *course) pass(tc, pace float64, h hit) {
	end := h.end()
	from := tc + pace*(h.mid-h.lead())
	c.moves = append(c.moves, move{from, pace * h.span, end - h.from, h.skew})
	c.goal += end - h.from
}

// drive is a stroke swung about an upright axis: groundstrokes, slices and volleys.
// Azimuths are toward the hitting side; angles radians, times seconds before
// contact unless said otherwise.
type drive struct {
	stroke body.Stroke
	side   float64 // +1 forehand side, −1 backhand side
	pace   float64 // stretches everything from the drop on; solved for the tip speed
	speed  float64 // wanted tip speed at contact, m/s
	two    bool

	prep, turnSpan, takeLate, takeSpan float64
	hop, landing, uneven               float64 // height m (0 none), landing before the turn starts, the feet's difference, s

	hip, shoulder hit
	arm, rise     hit // azimuth and elevation of the hands
	reach         hit // share of arm length
	lag, dip      hit // racket against the arm, racket elevation
	roll          hit
	armBackEl     float64
	reachBack     float64
	dipBack       float64 // racket elevation in the take-back
	lagBack       float64
	lagRise       [2]float64 // when the lag builds, before contact at pace 1
	dropTime      [2]float64
	armFinish     [3]float64 // azimuth, elevation, reach at the end of the follow-through
	dipFinish     float64
	through       float64 // how far the trunk turns on after contact: 1 fully
	wrap          float64 // racket against the arm at the end
	finish        float64 // s after contact

	knees                    [3]float64 // hip drop: load, contact, recovered; m
	stance, base             float64    // direction and width of the feet at contact
	run                      [2]float64 // m/s of travel to the ball, along and across
	drift                    [2]float64 // m moved during the forward swing
	feet                     float64    // how far the feet turn to the side
	lean                     [2]float64 // side (toward h) and forward at contact
	tilt                     hit        // hitting-side shoulder up: before the forward swing, at contact
	under, lift              float64    // least that the hands pass below the ball, and that the hips rise, m
	nod                      nod
	loss, lossHand, lossTime float64
	lossHold                 float64
	recover                  [2]float64 // s after contact
	air                      bool       // no ball: nothing breaks the motion
}

// level01 is the level from 0 (beginner) to 1 (elite).
func level01(l body.Level) float64 { return float64(l-body.Beginner) / 3 }

// newDrive draws a groundstroke.
func newDrive(s Spec, d draw) drive {
	g, k := level01(s.Level), s.Knobs
	v := drive{stroke: s.Stroke, side: s.Stroke.Side(), pace: 1, two: s.Stroke == body.TwoHandedBackhand}
	v.speed = s.tipSpeed(d)
	v.timing(d)
	v.trunk(d, g, k)
	switch s.Stroke {
	case body.TwoHandedBackhand:
		v.twoHanded(d, g, k)
	case body.OneHandedBackhand:
		v.oneHanded(d, g, k)
	case body.SliceBackhand:
		v.slice(d, k)
	case body.ForehandVolley, body.BackhandVolley:
		v.volley(d, k)
	default:
		v.forehand(d, g, k)
	}
	v.below(s, d)
	v.impact(d)
	v.nod = newNod(d, g)
	v.tilted(v.tilt.hit)
	v.lowest(s, d)
	return v
}

// tilted sets how the shoulders tilt, for a player who is z sd from the middle of his
// kind. Recorded players (optical capture, 18 ground strokes and 3 volleys) drop the
// hitting-side shoulder into a forehand, 20° low at contact with the hands 0.4 m below
// the shoulders; into a backhand they come from some 20° high, and have about 8° left.
func (v *drive) tilted(z float64) {
	switch {
	case v.stroke == body.ForehandVolley:
		v.tilt = hit{-6 * deg, (-14 + 4*z) * deg, -0.06, 0.30, 0}
	case v.stroke == body.BackhandVolley:
		v.tilt = hit{6 * deg, (12 + 6*z) * deg, -0.06, 0.30, 0}
	case v.side > 0:
		v.tilt = hit{3 * deg, (-20 + 7*z) * deg, -0.07, 0.34, 0}
	default:
		at := (9 + 5*z) * deg
		v.tilt = hit{at + 14*deg, at, -0.05, 0.36, 0}
	}
}

// lowest draws how far the hands must pass below the ball in a topspin stroke, and how
// far the legs must raise the hips in any ground stroke. Beginners need do neither.
func (v *drive) lowest(s Spec, d draw) {
	under, lift := d.in(0.01, 0.08), d.in(0.006, 0.03)
	if s.Level == body.Beginner {
		under, lift = under-0.06, lift-0.02
	}
	v.under, v.lift = math.Inf(-1), math.Inf(-1)
	if s.Stroke.Volley() {
		return
	}
	v.lift = lift
	if s.Stroke != body.SliceBackhand {
		v.under = under
	}
}

func (v *drive) timing(d draw) {
	v.prep = d.in(0.40, 0.72)
	v.turnSpan = d.in(0.34, 0.52)
	v.takeLate = d.in(0.0, 0.08)
	v.takeSpan = d.in(0.36, 0.5)
	if d.chance(0.65) {
		v.hop = d.in(0.03, 0.08)
	}
	v.landing, v.uneven = d.in(0.0, 0.22), d.about(0, 0.008)
	v.finish = d.in(0.26, 0.40)
	v.wrap, v.through = -d.in(65, 90)*deg, d.in(0.6, 1.2)
	v.recover = [2]float64{d.in(0.34, 0.5), d.in(1.0, 1.4)}
}

func (v *drive) trunk(d draw, g float64, k Knobs) {
	early := k.ContactTime
	v.hip = hit{d.in(40, 62) * deg, d.in(5, 25) * deg, -d.in(0.085, 0.115) - early, d.in(0.36, 0.48), d.in(0, 0.35)}
	v.shoulder = hit{(d.in(78, 100) + 10*g + k.Turn) * deg, d.in(8, 26) * deg, -d.in(0.055, 0.080) - early, d.in(0.36, 0.46), d.in(0, 0.35)}
	v.lean = [2]float64{d.about(-3, 5) * deg, d.about(4, 4) * deg}
	v.tilt.hit = d.about(0, 1)
}

func (v *drive) forehand(d draw, g float64, k Knobs) {
	v.arm = hit{d.in(122, 148) * deg, d.in(50, 64) * deg, d.in(-0.025, 0.01), d.in(0.46, 0.56), d.in(0.1, 0.35)}
	low := d.in(-66, -32) * deg
	v.rise = hit{low, low + d.in(14, 26)*deg, d.in(0.0, 0.03), d.in(0.32, 0.44), 0}
	v.reach = hit{d.in(0.72, 0.90), d.in(0.74, 1.0), d.in(0, 0.04), d.in(0.3, 0.45), 0}
	v.lag = hit{(d.in(48, 70) + 24*g + k.Lag) * deg, d.in(13, 27) * deg, d.in(-0.015, 0.01), d.in(0.34, 0.44), d.in(0.25, 0.5)}
	v.dip = hit{-(d.in(15, 45) + k.Drop) * deg, d.in(-22, -4) * deg, d.in(0, 0.03), d.in(0.24, 0.34), 0}
	v.roll = hit{d.in(-40, 10) * deg, d.about(4, 6) * deg, d.in(0, 0.02), d.in(0.2, 0.3), 0}
	v.armBackEl, v.reachBack = (d.in(-44, 20)+k.TakeBack)*deg, d.in(0.64, 0.88)
	v.dipBack, v.lagBack = d.in(42, 72)*deg, d.in(0, 35)*deg
	v.lagRise, v.dropTime = [2]float64{d.in(0.36, 0.44), d.in(0.05, 0.08)}, [2]float64{d.in(0.46, 0.56), d.in(0.10, 0.15)}
	v.armFinish = [3]float64{d.in(-70, -35) * deg, d.in(-5, 25) * deg, d.in(0.62, 0.8)}
	v.dipFinish = d.in(10, 50) * deg
}

func (v *drive) twoHanded(d draw, g float64, k Knobs) {
	v.shoulder.hit += 8 * deg
	v.arm = hit{d.in(94, 114) * deg, d.in(48, 60) * deg, d.in(-0.025, 0.005), d.in(0.44, 0.54), d.in(0.1, 0.35)}
	low := d.in(-63, -32) * deg
	v.rise = hit{low, low + d.in(12, 24)*deg, d.in(0.0, 0.03), d.in(0.32, 0.42), 0}
	v.reach = hit{d.in(0.62, 0.72), d.in(0.70, 0.80), d.in(0, 0.03), d.in(0.28, 0.38), 0}
	v.lag = hit{(d.in(72, 94) + 22*g + k.Lag) * deg, d.in(17, 31) * deg, d.in(-0.015, 0.01), d.in(0.32, 0.40), d.in(0.25, 0.5)}
	v.dip = hit{-(d.in(15, 42) + k.Drop) * deg, d.in(-20, -4) * deg, d.in(0, 0.03), d.in(0.24, 0.34), 0}
	v.roll = hit{d.in(-10, 30) * deg, d.about(-4, 6) * deg, d.in(0, 0.02), d.in(0.2, 0.3), 0}
	v.armBackEl, v.reachBack = (d.in(-48, -2)+k.TakeBack)*deg, d.in(0.64, 0.76)
	v.dipBack, v.lagBack = d.in(38, 68)*deg, d.in(15, 45)*deg
	v.lagRise, v.dropTime = [2]float64{d.in(0.36, 0.44), d.in(0.05, 0.08)}, [2]float64{d.in(0.44, 0.54), d.in(0.10, 0.15)}
	v.armFinish = [3]float64{d.in(-45, -15) * deg, d.in(-5, 25) * deg, d.in(0.62, 0.75)}
	v.dipFinish = d.in(10, 45) * deg
}

// below draws the legs, the feet and where the player comes from.
func (v *drive) below(s Spec, d draw) {
	h := s.Stature
	load := d.in(0.035, 0.10)*h + s.Knobs.Legs
	v.knees = [3]float64{load, load - d.in(0.015, 0.05)*h, d.in(0.035, 0.07) * h}
	v.stance = (d.in(-65, 25) + s.Knobs.Stance) * deg
	if s.Stroke.Volley() || s.Stroke == body.SliceBackhand {
		v.stance = (d.in(-20, 35) + s.Knobs.Stance) * deg
	}
	v.base = d.in(0.26, 0.36) * h
	v.run = [2]float64{d.about(0.1, 0.3), v.side * max(0, d.in(-0.6, 1.7))}
	v.drift = [2]float64{d.in(0.08, 0.3), v.side * d.about(0, 0.04)}
	v.feet = d.in(30, 75) * deg
	v.reach.hit += (s.Knobs.Spacing - s.Knobs.ArmBend) / (0.332 * h)
	v.reach.from += s.Knobs.Spacing / (0.332 * h)
	v.rise.from += math.Asin(max(-0.9, min(0.9, s.Knobs.BallHeight/(0.30*h))))
	v.rise.hit += math.Asin(max(-0.9, min(0.9, s.Knobs.BallHeight/(0.30*h))))
}

// impact draws what the ball takes: a fifth to three tenths of the tip's speed.
func (v *drive) impact(d draw) {
	v.loss, v.lossHand = d.in(0.2, 0.3), d.in(0.03, 0.10)
	v.lossTime, v.lossHold = d.in(0, 0.005), d.in(0.10, 0.18)
}

func (v *drive) oneHanded(d draw, g float64, k Knobs) {
	v.shoulder.from += 12 * deg
	v.shoulder.hit += 30 * deg
	v.hip.hit += 25 * deg
	v.arm = hit{d.in(105, 125) * deg, d.in(52, 66) * deg, d.in(-0.02, 0.01), d.in(0.44, 0.54), d.in(0.1, 0.3)}
	low := d.in(-60, -38) * deg
	v.rise = hit{low, low + d.in(14, 26)*deg, d.in(0.0, 0.03), d.in(0.32, 0.44), 0}
	v.reach = hit{d.in(0.74, 0.86), d.in(0.96, 1.03), d.in(0, 0.04), d.in(0.3, 0.45), 0}
	v.lag = hit{(d.in(55, 72) + 18*g + k.Lag) * deg, d.in(15, 30) * deg, d.in(-0.015, 0.01), d.in(0.34, 0.42), d.in(0.25, 0.45)}
	v.dip = hit{-(d.in(10, 36) + k.Drop) * deg, d.in(-18, -2) * deg, d.in(0, 0.03), d.in(0.24, 0.34), 0}
	v.roll = hit{d.in(-10, 25) * deg, d.about(-4, 6) * deg, d.in(0, 0.02), d.in(0.2, 0.3), 0}
	v.armBackEl, v.reachBack = (d.in(-40, -5)+k.TakeBack)*deg, d.in(0.62, 0.78)
	v.dipBack, v.lagBack = d.in(42, 70)*deg, d.in(5, 35)*deg
	v.lagRise, v.dropTime = [2]float64{d.in(0.36, 0.44), d.in(0.05, 0.08)}, [2]float64{d.in(0.46, 0.56), d.in(0.10, 0.15)}
	v.armFinish = [3]float64{d.in(-55, -25) * deg, d.in(10, 35) * deg, d.in(0.82, 0.9)}
	v.through, v.wrap = d.in(-1, 0), -d.in(10, 50)*deg
	v.dipFinish = d.in(20, 60) * deg
}

// slice comes down to the ball with an open face: the racket falls all the way to contact.
func (v *drive) slice(d draw, k Knobs) {
	v.shoulder.from += 8 * deg
	v.shoulder.hit += 32 * deg
	v.hip.hit += 25 * deg
	v.arm = hit{d.in(100, 122) * deg, d.in(48, 62) * deg, d.in(-0.03, 0.01), d.in(0.42, 0.54), d.in(0.1, 0.3)}
	low := d.in(-50, -30) * deg
	v.rise = hit{low + d.in(8, 22)*deg, low, d.in(-0.01, 0.02), d.in(0.40, 0.52), 0}
	v.reach = hit{d.in(0.62, 0.78), d.in(0.90, 1.02), d.in(-0.02, 0.03), d.in(0.3, 0.45), 0}
	v.lag = hit{(d.in(35, 60) + k.Lag) * deg, d.in(14, 32) * deg, d.in(-0.02, 0.01), d.in(0.36, 0.46), d.in(0.1, 0.4)}
	v.dip = hit{(d.in(22, 44) - k.Drop) * deg, d.in(-8, 12) * deg, d.in(-0.01, 0.02), d.in(0.40, 0.52), 0}
	v.roll = hit{d.in(20, 45) * deg, d.in(4, 16) * deg, d.in(0, 0.02), d.in(0.25, 0.35), 0}
	v.armBackEl, v.reachBack = v.rise.from+d.in(0, 12)*deg+k.TakeBack*deg, d.in(0.60, 0.74)
	v.dipBack, v.lagBack = v.dip.from+d.in(0, 12)*deg, v.lag.from-d.in(5, 20)*deg
	v.lagRise, v.dropTime = [2]float64{d.in(0.34, 0.42), d.in(0.06, 0.10)}, [2]float64{d.in(0.40, 0.5), d.in(0.10, 0.15)}
	v.armFinish = [3]float64{d.in(-25, 0) * deg, d.in(-30, -5) * deg, d.in(0.85, 0.93)}
	v.dipFinish, v.wrap, v.through = d.in(-10, 15)*deg, d.in(-30, 0)*deg, d.in(-1, -0.3)
}

// volley is a short punch: little turn, the racket above the hand.
func (v *drive) volley(d draw, k Knobs) {
	v.prep, v.finish = d.in(0.22, 0.42), d.in(0.18, 0.3)
	v.turnSpan, v.takeSpan, v.takeLate = d.in(0.24, 0.34), d.in(0.24, 0.34), d.in(0, 0.03)
	v.hip.from, v.hip.hit = d.in(14, 32)*deg, d.in(8, 22)*deg
	v.shoulder.from, v.shoulder.hit = (d.in(38, 62)+k.Turn)*deg, d.in(18, 38)*deg
	v.arm = hit{d.in(78, 98) * deg, d.in(42, 56) * deg, d.in(-0.01, 0.015), d.in(0.30, 0.42), d.in(0, 0.3)}
	low := d.in(-42, -8) * deg
	v.rise = hit{low + d.in(2, 12)*deg, low, d.in(-0.02, 0.02), d.in(0.3, 0.4), 0}
	v.reach = hit{d.in(0.60, 0.72), d.in(0.76, 0.9), d.in(-0.03, 0.01), d.in(0.26, 0.36), 0}
	v.lag = hit{(d.in(36, 54) + k.Lag) * deg, d.in(18, 34) * deg, d.in(-0.008, 0.012), d.in(0.26, 0.36), d.in(0, 0.3)}
	v.dip = hit{(d.in(30, 50) - k.Drop) * deg, d.in(12, 34) * deg, d.in(-0.02, 0.02), d.in(0.28, 0.4), 0}
	v.roll = hit{d.in(5, 25) * deg, d.in(2, 14) * deg, d.in(0, 0.02), d.in(0.25, 0.35), 0}
	if v.side > 0 {
		v.roll.from, v.roll.hit = -v.roll.from, -v.roll.hit
	}
	v.armBackEl, v.reachBack = v.rise.from+d.in(0, 10)*deg+k.TakeBack*deg, v.reach.from
	v.dipBack, v.lagBack = v.dip.from+d.in(0, 10)*deg, v.lag.from-d.in(5, 15)*deg
	v.lagRise, v.dropTime = [2]float64{d.in(0.24, 0.3), d.in(0.06, 0.10)}, [2]float64{d.in(0.26, 0.32), d.in(0.06, 0.10)}
	v.armFinish = [3]float64{d.in(10, 30) * deg, v.rise.hit - d.in(4, 14)*deg, d.in(0.8, 0.9)}
	v.dipFinish, v.wrap, v.through = v.dip.hit-d.in(0, 12)*deg, d.in(0, 20)*deg, d.in(-1, 0)
}
