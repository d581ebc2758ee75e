package swing

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/phase"
)

// TestUnspread: an onset is moved later, more than in proportion to the response time, an ending
// earlier, and neither past contact.
func TestUnspread(t *testing.T) {
	at := func(tau float64, flat bool, rng *rand.Rand) phase.Times {
		s := &settling{trunk: tau, feet: tau, flat: flat}
		e := phase.None()
		e[phase.TurnStart], e[phase.TurnComplete], e[phase.Contact] = 1, 2, 2.5
		return s.unspread(e, rng)
	}
	fine, coarse := at(0.03, false, nil), at(0.06, false, nil)
	if a, b := fine[phase.TurnStart]-1, coarse[phase.TurnStart]-1; !(a > 0 && math.Abs(b/a-8) < 1e-6) {
		t.Errorf("an onset moved by %.4f and %.4f s, want eight times as far for twice the response time", a, b)
	}
	if a := 2 - fine[phase.TurnComplete]; math.Abs(a-0.006) > 1e-9 {
		t.Errorf("an ending moved by %.4f s, want .006", a)
	}
	if got := at(5, false, nil)[phase.TurnStart]; got != 2.5 {
		t.Errorf("an onset moved to %.3f s, want contact at 2.5", got)
	}
	if a := at(0.03, true, nil)[phase.TurnStart] - 1; math.Abs(a-0.0075) > 1e-9 {
		t.Errorf("one camera's onset moved by %.4f s, want .0075", a)
	}
	if !math.IsNaN(fine[phase.SplitLanding]) {
		t.Error("a landing that was not there came")
	}
	spread := 0.0
	for k := range uint64(400) {
		d := at(0.03, false, rand.New(rand.NewPCG(3, k)))[phase.TurnStart] - fine[phase.TurnStart]
		spread += d * d / 400
	}
	want := 0.8 * (fine[phase.TurnStart] - 1)
	if sd := math.Sqrt(spread); math.Abs(sd/want-1) > 0.1 {
		t.Errorf("draws spread by %.5f s, want %.5f", sd, want)
	}
}
