package track

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestDipsAreNoNoise looks for the instants at which a rod may turn its tilt over: seen by a
// sensor of 240 Hz as by a phone's 60, one that rests askew has hardly any, and one that
// swings through the plane across the view has those at which it does.
func TestDipsAreNoNoise(t *testing.T) {
	const length, noise = 75.0, 2.0 // pixels
	for rate, most := range map[float64]int{60: 10, 240: 4} {
		for seed := range uint64(20) {
			rng := rand.New(rand.NewPCG(11, seed))
			see := func(tilt func(t float64) float64) (cs []axisChoice) {
				for k := range int(rate) {
					at := float64(k) / rate
					d := math.Cos(tilt(at)) + noise/length*rng.NormFloat64()
					cs = append(cs, axisChoice{t: at, flat: math.Sqrt(math.Max(0, 1-d*d))})
				}
				return cs
			}
			if n := len(dips(see(func(float64) float64 { return 0.42 }))); n > most {
				t.Errorf("%g Hz, seed %d: %d dips in a second of a rod that rests", rate, seed, n)
			}
			swung := see(func(t float64) float64 { return 1.2 * math.Sin(2*math.Pi*(t-0.2)/0.6) })
			for _, want := range []float64{0.2, 0.5, 0.8} {
				near := math.Inf(1)
				for _, i := range dips(swung) {
					near = math.Min(near, math.Abs(swung[i].t-want))
				}
				if near > 0.03 {
					t.Errorf("%g Hz, seed %d: no dip within %.3f s of %g s", rate, seed, near, want)
				}
			}
			if n := len(dips(swung)); n > 3 {
				t.Errorf("%g Hz, seed %d: %d dips of a swing through the plane at 3", rate, seed, n)
			}
		}
	}
}
