package track

import (
	"math"
	"math/rand/v2"
)

// liftDraws is how many draws of the distances are made: fours of them together.
const liftDraws = 24

// draw writes one draw of the errors of all distances (and of the shared
// parameters) around the solution, after improve, but for its last step, spread: with the
// factor L of the banded part and W = L⁻¹B, θ ~ N(0, S⁻¹) and λ = L⁻ᵀ(z − Wθ).
func (l *lift) draw(rng *rand.Rand, out []float64, theta *[liftParams]float64) {
	for p := range theta {
		theta[p] = rng.NormFloat64()
	}
	l.schur.backward(theta[:])
	for i := range out {
		out[i] = rng.NormFloat64()
	}
	for p, v := range theta {
		for i, e := range l.edge[p] {
			out[i] -= e * v
		}
	}
}

// spread ends four draws.
func (l *lift) spread(d [][]float64) {
	l.a.backwardFour(d[0], d[1], d[2], d[3])
	for _, out := range d {
		for i := range out {
			if math.IsNaN(out[i]) {
				out[i] = 0
			}
		}
	}
}
