package swing

import (
	"math"
	"testing"
)

// TestTurnToIsTheRemainder holds the quick ways to the plain one, bit by bit.
func TestTurnToIsTheRemainder(t *testing.T) {
	for d := float32(-1300); d <= 1300; d += 0.37 {
		if got, want := turnTo(d), math.Remainder(float64(d), 360); got != want {
			t.Errorf("%v: %v, want %v", d, got, want)
		}
	}
	for _, d := range []float32{-540, -360, -180, 0, 180, 180.00002, 360, 539.99994, 540, 720} {
		if got, want := turnTo(d), math.Remainder(float64(d), 360); got != want {
			t.Errorf("%v: %v, want %v", d, got, want)
		}
	}
	if !math.IsNaN(turnTo(float32(math.NaN()))) {
		t.Error("not known became known")
	}
}
