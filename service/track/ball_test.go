package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestApexIsTheFlights: a toss to 2.34 m seen to 8 mm at 120 Hz, one sight in a hundred
// gross by half a metre. A gross sight is the highest of most tosses; the apex is told
// to 5 mm all the same, within its error.
func TestApexIsTheFlights(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 8))
	const apex, sd = 2.34, 0.008
	far := 0
	for range 200 {
		var s []sight
		for k := range 90 {
			d := float64(k)/120 - 0.45
			p := geom.Vec3{X: 0.3, Y: apex - gravity/2*d*d, Z: 0.1 * d}
			noise := sd
			if rng.Float64() < 0.01 || k == 50 {
				noise = 0.5
			}
			p = p.Add(geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(noise))
			s = append(s, sight{kind: place, t: d, p: p, sd: sd, w: 1})
		}
		got := highest(s)
		if e := math.Abs(got.v - apex); !(e < 5*got.sd+0.002) {
			far++
			t.Logf("apex %.3f ± %.3f m, want %.3f", got.v, got.sd, apex)
		}
	}
	if far > 1 {
		t.Errorf("%d of 200 apexes beyond 5 sd", far)
	}
	if !math.IsNaN(highest(nil).v) {
		t.Error("an apex of nothing")
	}
}
