package swing

import "testing"

// A clock in doubt or denied widens what hangs on it; one that was checked does not.
func TestClockDoubt(t *testing.T) {
	for _, tt := range []struct {
		name string
		g    Candidate
		want float64
	}{
		{"checked", Candidate{Slow: 8, SlowSD: 0.2}, 0},
		{"in doubt", Candidate{Slow: 8, SlowSD: 4, DoubtSlow: true}, 0.5},
		{"denied", Candidate{Slow: 2, SlowSD: 0.5, DenySlow: true}, 0.25},
	} {
		if got := (&settling{guess: tt.g}).clockDoubt(); got != tt.want {
			t.Errorf("%s: %g, want %g", tt.name, got, tt.want)
		}
	}
}
