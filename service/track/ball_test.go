package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
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

// TestReleaseIsTheLaterParting: both hands are at the ball; the racket hand leaves it at
// 0.4 s, sharply, and the tossing hand at 0.8 s, softly. The release is the second.
func TestReleaseIsTheLaterParting(t *testing.T) {
	const left, right, contact = 0.4, 0.8, 1.6
	ball := func(t float64) geom.Vec3 { // up to 5 m/s in the hand, then in free flight
		rise, d := math.Max(0, math.Min(t, right)-0.5), math.Max(0, t-right)
		return geom.Vec3{Y: 1.2 + 5*rise*rise/0.6 + 5*d - gravity/2*d*d}
	}
	tossing := func(t float64) geom.Vec3 { // 10 cm below; it stops within 0.2 s of the release
		d := math.Min(math.Max(0, t-right), 0.2)
		return ball(math.Min(t, right)).Add(geom.Vec3{Y: 5*d - 12.5*d*d - 0.1})
	}
	racket := func(t float64) geom.Vec3 {
		return ball(math.Min(t, left)).Add(geom.Vec3{X: -2.5 * math.Max(0, t-left), Z: 0.12})
	}
	rng := rand.New(rand.NewPCG(3, 9))
	m := &scene{g: newGrid(solveSteps, -0.02, contact, 2.2)}
	see := func(of func(float64) geom.Vec3, sd float64) (s []sight) {
		for k := range 250 {
			d := float64(k) / 120
			noise := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(sd)
			s = append(s, sight{kind: place, t: d, p: of(d).Add(noise), sd: sd, w: 1})
		}
		return s
	}
	m.sights[body.Ball] = see(ball, 0.008)
	for wrist, of := range map[body.Point]func(float64) geom.Vec3{body.LeftWrist: tossing, body.RightWrist: racket} {
		sd := 0.02 // the racket hand is seen better, and its parting fits better
		if wrist == body.RightWrist {
			sd = 0.003
		}
		p, ok := smoothPoint(m.g, see(of, sd), roughOf[groupWrist], 2, nil)
		if !ok {
			t.Fatal("no path")
		}
		m.paths[wrist] = p
	}
	if r := m.release(contact); !(math.Abs(r.v-right) < 0.05) {
		t.Errorf("released at %.3f ± %.3f s, want %.3f", r.v, r.sd, right)
	}
}
