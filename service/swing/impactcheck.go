package swing

import (
	"math"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/track"
)

// The ball and the racket each tell how hard the blow was: out = e·in + (1 + e)·racket
// along the blow, e the racket's apparent restitution (Brody, Cross & Lindsey, The
// Physics and Technology of Tennis). Where the racket is seen in space, neither needs
// the other, and so each checks the other.

// WarnImpact is the code of the warning that they contradict each other.
const WarnImpact = "ball_racket_contradict"

// impactDoubt is from how many sds ball and racket contradict each other. Three leave
// room for e from 0.1 to 0.7: more than from a racket's tip to its throat.
const impactDoubt = 3.0

// impactCheck gathers the draws' surplus of ball over racket.
type impactCheck struct{ n, sum, square float64 }

func (k *impactCheck) add(b *track.Flight) {
	if !math.IsNaN(b.Surplus) {
		k.n, k.sum, k.square = k.n+1, k.sum+b.Surplus, k.square+b.Surplus*b.Surplus
	}
}

// warnings returns the warning where the mean course's surplus is beyond its error.
func (k *impactCheck) warnings(b *track.Flight) []measure.Warning {
	if math.IsNaN(b.Surplus) || k.n < membersInSpace/2 {
		return nil
	}
	spread := math.Sqrt(math.Max(0, k.square/k.n-k.sum*k.sum/k.n/k.n))
	if math.Abs(b.Surplus) <= impactDoubt*math.Hypot(spread, b.SurplusSD) {
		return nil
	}
	text := "The ball left faster than a racket so slow could have sent it: one of the two was not followed well, or the clock or the scale is wrong."
	if b.Surplus < 0 {
		text = "The ball left slower than a racket so fast would have sent it: one of the two was not followed well, or the ball was not met squarely."
	}
	return []measure.Warning{{Code: WarnImpact, Text: text}}
}
