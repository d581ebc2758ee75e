package camera

import (
	"math"
	"testing"
)

// near fails the test when got is not within tol of want; NaN matches NaN only.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(want) && math.IsNaN(got) {
		return
	}
	if d := math.Abs(got - want); !(d <= tol) && got != want {
		t.Errorf("%s = %.9g, want %.9g ± %g", what, got, want, tol)
	}
}
