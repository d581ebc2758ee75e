package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// flownBall makes sights of a ball that bounces, is struck and flies off, by small
// Euler steps of 0.1 ms: drag as given, spin as an acceleration across the path. It
// returns them with the true speeds before and after.
func flownBall(r *rand.Rand, contact, drag float64, lift geom.Vec3, noise float64) (s []sight, in, out float64) {
	const h = 1e-4
	accel := func(v geom.Vec3) geom.Vec3 {
		return v.Scale(-drag * v.Norm()).Add(geom.Vec3{Y: -9.80665}).Add(lift)
	}
	at := geom.Vec3{X: 0.4, Y: 1.1, Z: 0.6}
	vin, vout := geom.Vec3{X: -13, Y: -1, Z: 1}, geom.Vec3{X: 27, Y: 5, Z: -2}
	places := map[int]geom.Vec3{0: at}
	p, v := at, vin
	for k := 0; k > -4000; k-- {
		p = p.Sub(v.Scale(h))
		v = v.Sub(accel(v).Scale(h))
		if k == -1900 { // it bounced 0.19 s before
			v = geom.Vec3{X: v.X / 0.68, Y: -v.Y/0.75 - 6, Z: v.Z / 0.68}
		}
		places[k-1] = p
	}
	p, v = at, vout
	for k := range 4000 {
		p = p.Add(v.Scale(h))
		v = v.Add(accel(v).Scale(h))
		places[k+1] = p
	}
	e := &hiss{white: noise}
	for t := contact - 0.35; t < contact+0.35; t += 1. / 120 {
		q := places[int(math.Round((t-contact)/h))]
		q = q.Add(geom.Vec3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Scale(noise))
		s = append(s, sight{kind: place, t: t, p: q, sd: noise, h: e, w: 1})
	}
	s[5].p = s[5].p.Add(geom.Vec3{Y: 0.4}) // and what was no ball
	s[len(s)-12].p = geom.Vec3{}
	return s, vin.Norm(), vout.Norm()
}

// TestBallFit: speeds of balls whose drag and spin are not the usual ones lie within
// what their draws say.
func TestBallFit(t *testing.T) {
	const contact = 1.2
	far, worst := 0, 0.0
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 3))
		drag := dragPerMetre * (1 + dragDoubt*r.NormFloat64())
		lift := geom.Vec3{Y: -3 * r.NormFloat64(), Z: 2 * r.NormFloat64()}
		m := &scene{contactSD: 0.001}
		var in, out float64
		m.sights[body.Ball], in, out = flownBall(r, contact, drag, lift, 0.008)
		f := m.fitBall(contact - dwellLead)
		if f == nil {
			t.Fatal("no fit")
		}
		v, w := f.velocities(nil)
		gotIn, gotOut := v.Norm(), w.Norm()
		var sumIn, sumOut float64
		for k := range 32 {
			a, b := f.draw(newDice(1, k))
			sumIn, sumOut = sumIn+square(a.Norm()-gotIn)/32, sumOut+square(b.Norm()-gotOut)/32
		}
		for _, z := range [2]float64{(gotIn - in) / math.Sqrt(sumIn), (gotOut - out) / math.Sqrt(sumOut)} {
			if worst = math.Max(worst, math.Abs(z)); math.Abs(z) > 2.04 {
				far++
			}
		}
		if sd := math.Sqrt(sumIn); sd > 0.3 {
			t.Errorf("seed %d: speed in is known to ± %.2g m/s only", seed, sd)
		}
	}
	if far > 8 || worst > 4.5 { // 4 of 80 expected
		t.Errorf("%d of 80 speeds lie outside their 95 %% interval, the worst %.1f sd off", far, worst)
	}
}
