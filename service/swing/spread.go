package swing

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/phase"
)

// spreading says how smoothing shifts an instant that is a threshold of an onset
// or an ending: by shift response times of the smoother, ± doubt of them. The
// response times are those of the trunk or of the feet.
type spreading struct {
	event        phase.EventKind
	feet         bool
	shift, doubt float64
	onset        float64 // s: shift and doubt are times (response time ÷ onset)², a half at most; 0: they are not
}

// spreadings were measured on strokes of all three simulators and of recorded players in the
// conditions W and T: what of an event's error goes with the response time, 32 to 70 ms, and
// what is left of it beside the draws' own spread. A smoother follows a curve's lower
// derivatives whole, so that how early an onset crosses a fifth of its height grows faster than
// in proportion: in W by .03 to .18 of the response time (recorded players −.1), in T by .28 to
// .58, six times as many milliseconds for 1.8 times the time. An ending settles late by a fifth
// or so, in the four of W apart by .15 of the response time; what else is left of it, the draws
// hold.
var spreadings = []spreading{
	{event: phase.TurnStart, shift: 1, doubt: 0.8, onset: 0.095},
	{event: phase.TurnComplete, shift: -0.20, doubt: 0.15},
	{event: phase.SplitLanding, feet: true, shift: -0.65, doubt: 0.10},
}

// flatSpreadings are those of one camera's motion, whose draws spread by more than either: set on
// made swings in W, T and P, by which an onset crosses a fifth of its height about 0.3 response
// times early. The others' rule placed TURN_START worse by 3 to 11 ms (P, I, B, S).
var flatSpreadings = []spreading{
	{event: phase.TurnStart, shift: 0.25, doubt: 0.20},
	{event: phase.TurnComplete, shift: -0.25, doubt: 0.25},
	{event: phase.SplitLanding, feet: true, shift: -0.50, doubt: 0.30},
}

// mostSpread is the largest (response time ÷ onset)².
const mostSpread = 0.5

// share returns shift and doubt as shares of the response time tau.
func (e *spreading) share(tau float64) (shift, doubt float64) {
	if e.onset == 0 {
		return e.shift, e.doubt
	}
	x := math.Min(mostSpread, (tau/e.onset)*(tau/e.onset))
	return e.shift * x, e.doubt * x
}

// unspread takes the smoother's own spreading off the events that it shifts; a
// draw is given its share of the doubt.
func (s *settling) unspread(t phase.Times, rng *rand.Rand) phase.Times {
	spread := spreadings
	if s.flat {
		spread = flatSpreadings
	}
	for i := range spread {
		e := &spread[i]
		tau := s.trunk
		if e.feet {
			tau = s.feet
		}
		by, doubt := e.share(tau)
		if rng != nil {
			by += doubt * rng.NormFloat64()
		}
		t[e.event] = math.Min(t[e.event]+by*tau, t[phase.Contact])
	}
	return t
}
