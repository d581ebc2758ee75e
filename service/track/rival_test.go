package track

import (
	"math"
	"testing"
)

// An ensemble of 32 shows each rival course of the racket by its share, and an unlikely one
// by as many members as keep it within four of the sd that they give.
func TestDrawsShowUnlikelyRivals(t *testing.T) {
	for _, share := range []float64{leastShare, 0.03, 0.3} {
		likely, other := &rod{}, &rod{}
		m := &scene{racket: likely, rivals: []rival{{rod: other, share: share}}}
		n := 0.0
		const members = 32
		for k := range members {
			if r, _ := m.oneOf(newDice(0x636f757274, k)); r == other {
				n++
			}
		}
		p := n / members
		if want := math.Max(share, leastDrawn); math.Abs(p-want) > 1.2/members {
			t.Errorf("a rival of share %v is shown by %v of the draws, want %v", share, p, want)
		}
		// About the likelier course's value, which is told: spread and shift of the mean.
		if z := 1 / math.Hypot(math.Sqrt(p*(1-p)), p); z > 4 {
			t.Errorf("a rival of share %v lies %.1f sd off", share, z)
		}
	}
}
