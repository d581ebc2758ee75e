package swing

import (
	"testing"

	"example.com/courtkin/service/camera"
)

// A window of the lane of true time is believed by its hand alone only where the detector
// and the whole window call it quick: in a slowed clip either may be noise.
func TestTrueTimeWantsAHandThatTwoMeasuresCallQuick(t *testing.T) {
	for _, c := range []struct {
		name           string
		detected, seen float64 // m/s
		ball           float64
		informed       bool
		near, sure     bool
		want           bool
	}{
		{name: "both quick", detected: 4, seen: 3.5, near: true, want: true},
		{name: "the detector's alone", detected: 3.5, seen: 1.9},
		{name: "the window's alone", detected: 2.2, seen: 5.2, near: true},
		{name: "the window's not known", detected: 3, want: true},
		{name: "a volley whose ball flies off", detected: 2.7, seen: 2.6, ball: 17, want: true},
		{name: "a hand too slow for that, too", detected: 1.5, seen: 2.6, ball: 17},
		{name: "a fall that speaks unsure for it, a slow hand", detected: 2.1, seen: 1.5, informed: true, near: true},
		{name: "the same, a volley's hand", detected: 2.6, seen: 2.3, informed: true, near: true, want: true},
		{name: "a sure fall", detected: 1.5, seen: 1.2, informed: true, near: true, sure: true, want: true},
		{name: "a fall that speaks for slow motion", detected: 4, seen: 4, informed: true},
	} {
		h := heldWindow{c: Candidate{hand: c.detected, ball: c.ball}, informed: c.informed}
		h.hand = steadyHand(&h.c, camera.SlowMotion{Hand: c.seen}, 1)
		if got := h.isTrue(c.near, c.sure); got != c.want {
			t.Errorf("%s: taken for true time %v, want %v", c.name, got, c.want)
		}
	}
}

// Where no window speaks for its own lane, the middle factor of all decides, in doubt.
func TestWindowsThatAgreeOnNothingAreInDoubt(t *testing.T) {
	made := func(factors ...float64) *lanes {
		l := &lanes{all: []lane{{factor: 1}}}
		for _, f := range rivalFactors {
			l.all = append(l.all, lane{factor: f})
		}
		for i, f := range factors {
			if f > 0 {
				l.all[i].held = []heldWindow{{factor: f}}
			}
		}
		return l
	}
	l := made(8, 8, 8, 4, 10) // of the lanes 1, 2, 4, 8, 16
	if l.end(); l.decided.factor != 8 || !l.doubt || !(l.clock.SD >= 0.3*l.clock.Factor) {
		t.Errorf("lane %g, doubt %v, clock %+v, want the lane of 8 in doubt", l.decided.factor, l.doubt, l.clock)
	}
	l = made(0, 8, 0, 4, 0) // the lane of true time holds nothing: its swings would be lost
	if l.end(); len(l.decided.held) == 0 || !l.doubt {
		t.Errorf("lane %g of %d windows, doubt %v, want one that holds some, in doubt", l.decided.factor, len(l.decided.held), l.doubt)
	}
	l = made()
	if l.end(); l.decided.factor != 1 || l.doubt {
		t.Errorf("no window: lane %g, doubt %v, want true time", l.decided.factor, l.doubt)
	}
}
