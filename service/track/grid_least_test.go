package track

import "testing"

// TestGridHoldsACubic: however near an end impact lies, and however far apart the nodes
// are, each side of the break has the four nodes of a cubic.
func TestGridHoldsACubic(t *testing.T) {
	for _, steps := range [][]step{solveSteps, spaceSteps, tellSteps} {
		for _, near := range []float64{-0.01, 0, 0.001, 0.004, 0.02} {
			for _, g := range []*grid{newGrid(steps, 0, 1-near, 1), newGrid(steps, 0, near, 1)} {
				for _, at := range []float64{g.t[g.brk] - 1e-4, g.t[g.brk] + 1e-4} {
					if lo, hi := g.side(at); hi-lo < 3 {
						t.Errorf("impact %g s from an end: %d nodes on a side", near, hi-lo+1)
					}
				}
			}
		}
	}
}
