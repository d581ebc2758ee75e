package wire

import "math"

// near reports whether got is within tol of want.
func near(got, want, tol float64) bool { return math.Abs(got-want) <= tol }
