package phase

import (
	"math"
	"testing"
)

// smallAtan is the arc tangent up to its end.
func TestSmallAtan(t *testing.T) {
	for z := -smallTurn; z <= smallTurn; z += 1.0 / 1024 {
		if got := smallAtan(z); math.Abs(got-math.Atan(z)) > 3e-15 {
			t.Errorf("of %g: %.17g, want %.17g", z, got, math.Atan(z))
		}
	}
}
