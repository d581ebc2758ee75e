package swing

import "testing"

// A hard drive slowed four times passes for a quick volley by its ball; the slow hands about
// it tell otherwise, unless as many balls are hit as hard.
func TestSlowHandsOutvoteAHardHitBall(t *testing.T) {
	window := func(hand, ball float64) heldWindow {
		return heldWindow{c: Candidate{ball: ball}, hand: hand, factor: 2}
	}
	hard := window(2.4, 19)
	for _, c := range []struct {
		name string
		held []heldWindow
		want bool
	}{
		{name: "alone", held: []heldWindow{hard}},
		{name: "after a slow hand", held: []heldWindow{window(1.5, 10), hard}, want: true},
		{name: "after a slow hand whose ball fell in true time", held: []heldWindow{{hand: 1.5, factor: 1, informed: true}, hard}},
		{name: "the second of two, after one slow hand", held: []heldWindow{hard, window(1.5, 10), hard}},
		{name: "after a hand that is not slow", held: []heldWindow{window(2.2, 0), hard}},
	} {
		l := lane{factor: 1, held: c.held}
		if got := l.outvoted(&c.held[len(c.held)-1]); got != c.want {
			t.Errorf("%s: outvoted %v, want %v", c.name, got, c.want)
		}
	}
	quick := window(2.8, 19)
	if l := (lane{factor: 1, held: []heldWindow{window(1.5, 10), quick}}); l.outvoted(&quick) {
		t.Error("a hand quick enough by itself is outvoted")
	}
}
