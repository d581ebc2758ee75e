package phase

import "math"

// A dip of the tip's speed after which it rises again to this share of its value at
// contact is hardly a follow-through's end: players walk back to their place with the
// racket at a few m/s, a tenth to a fifth of a drive's speed. Common practice, no source.
const dipRise = 0.25

// dipWithin is how long after the dip the rise is searched, s.
const dipWithin = 0.3

// EndAgain tells whether the tip's speed, after FOLLOW_END at end, rises again as it
// would where that was no end but a dip, and when it next falls under FOLLOW_END's
// threshold; the course's last instant where it does not, before which the true end
// then hardly lies.
func (k *Curves) EndAgain(end float64) (next float64, dips bool) {
	if !k.usable || !k.HasTip() || math.IsNaN(end) {
		return end, false
	}
	before := k.TipSpeed[k.c.Break]
	first, _ := k.Bracket(end)
	for i := first + 1; i < len(k.t); i++ {
		v := k.TipSpeed[i]
		switch {
		case !dips && k.t[i] > end+dipWithin:
			return end, false
		case !dips:
			dips = v > dipRise*before
		case v < followShare*before:
			return crossing(k.t[i-1], k.TipSpeed[i-1], k.t[i], v, followShare*before), true
		}
	}
	if dips {
		return k.t[len(k.t)-1], true
	}
	return end, false
}
