package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// touching is a scene of points in space, with noise of 8 mm, in which a ball meets strings that
// come at 18 m/s at the instant contact, solved with a break that is late seconds after it.
func touching(seed uint64, contact, late float64) *scene {
	rng := rand.New(rand.NewPCG(seed, 7))
	m := &scene{length: usualLength, throat: 0.35, contactSD: 0.0008}
	m.sights[body.Ball], _, _ = flownBall(rng, contact, dragPerMetre, geom.Vec3{}, 0.008)
	ball, blow := geom.Vec3{X: 0.4, Y: 1.1, Z: 0.6}, geom.Vec3{X: 40, Y: 6}.Unit() // as flownBall has it, less what runs along the axis
	u := geom.Vec3{Z: 1}
	middle := (m.along(body.RacketTip) + m.along(body.RacketThroat)) / 2
	hold := func(t float64) geom.Vec3 {
		v := geom.Vec3{X: 18, Y: 2}
		if t > contact {
			v = v.Scale(0.75)
		}
		return ball.Sub(blow.Scale(ballRadius)).Sub(u.Scale(middle)).Add(v.Scale(t - contact))
	}
	m.g = newGrid(spaceSteps, contact-0.3, contact+late, contact+0.3)
	var grip, axis []geom.Vec3
	for _, t := range m.g.t {
		grip, axis = append(grip, hold(t)), append(axis, u)
	}
	var s []rodSight
	e := &hiss{white: 0.008}
	for t := contact - 0.29; t < contact+0.29; t += 1. / 120 {
		for _, p := range []body.Point{body.RacketTip, body.RacketThroat, body.RacketButt} {
			q := hold(t).Add(u.Scale(m.along(p))).Add(geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(0.008))
			s = append(s, rodSight{sight{kind: place, t: t, p: q, sd: 0.008, h: e, w: 1}, m.along(p)})
		}
	}
	m.racket = newRod(nil, m.g, grip, axis)
	settleRod(m.racket, s, handOf, turnOf, 3)
	m.flight.ball = m.fitBall(contact + late - dwellLead)
	return m
}

// TestTouch: wherever within a hold the break lies, places tell within what they say of
// themselves when ball and strings met, and better than the break's half of a hold does.
func TestTouch(t *testing.T) {
	const contact = 1.2
	far, n := 0, 0
	for seed := range uint64(20) {
		for _, late := range []float64{0, 0.00125, 0.0025} {
			m := touching(seed, contact, late)
			lead, sd, ok := m.leadByPlaces()
			if !ok || !(sd > 0 && sd < dwellSD) {
				t.Fatalf("lead %.2f ± %.2f ms, %t", 1e3*lead, 1e3*sd, ok)
			}
			if n++; math.Abs(lead-late) > 1.96*sd {
				far++
			}
			said := when{contact + late - dwellLead, math.Hypot(0.0003, dwellSD)}
			if got := m.touch(said); !(got.sd < said.sd) || late != 0.00125 && !(math.Abs(got.mean-contact) < math.Abs(said.mean-contact)) {
				t.Errorf("seed %d, break %.2f ms late: touch %.2f ± %.2f ms off, from %.2f ± %.2f", seed, 1e3*late,
					1e3*(got.mean-contact), 1e3*got.sd, 1e3*(said.mean-contact), 1e3*said.sd)
			}
		}
	}
	if far > n/10 {
		t.Errorf("%d of %d leads lie outside their 95 %% interval", far, n)
	}
}

// TestTouchAgrees: a break that places contradict is left as it is.
func TestTouchAgrees(t *testing.T) {
	m := touching(1, 1.2, 0.00125)
	for _, said := range []when{{1.21, 0.0008}, {1.2, 2 * nearContact}} {
		if got := m.touch(said); got != said {
			t.Errorf("%v became %v", said, got)
		}
	}
}
