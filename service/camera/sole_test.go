package camera

import "testing"

// Two sides of one meeting with the racket, neither precise, are one witness; two meetings, a
// precise side or a sure distance make more of them.
func TestTheTwoSidesOfAMeetingAreOneWitness(t *testing.T) {
	rough := func(meeting int) Fall { return Fall{G: 2.45, SD: 0.5, Scale: 0.08, Meeting: meeting} }
	precise, sure, hop := rough(1), rough(1), rough(0)
	precise.SD = 0.1
	sure.Sure = true
	hop.Hop = true
	for _, c := range []struct {
		name  string
		falls []Fall
		want  bool
	}{
		{"nothing", nil, false},
		{"one arc", []Fall{rough(1)}, true},
		{"one precise arc", []Fall{precise}, true},
		{"one arc of a sure distance", []Fall{sure}, false},
		{"two sides of a meeting", []Fall{rough(1), rough(1)}, true},
		{"two meetings", []Fall{rough(1), rough(2)}, false},
		{"two sides, one precise", []Fall{rough(1), precise}, false},
		{"two sides, one of a sure distance", []Fall{rough(1), sure}, false},
		{"an arc and a hop", []Fall{rough(1), hop}, false},
		{"two sides, one of which says otherwise", []Fall{rough(1), {G: 9.8, SD: 0.5, Scale: 0.08, Meeting: 1}}, true},
	} {
		if got := soleAmong(c.falls, 0.5*1.3863); got != c.want { // a factor of 2: a quarter of gravity
			t.Errorf("%s: alone %v, want %v", c.name, got, c.want)
		}
	}
	if k := CheckClock([]Fall{rough(1), rough(1)}, 0.03, Tempo{}, Camera{}, 1./60); !k.Sole {
		t.Errorf("two sides of one meeting are not told to stand alone: %+v", k)
	}
}
