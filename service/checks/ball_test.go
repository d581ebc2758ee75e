package checks

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/synth"
)

// madeForehand is a made swing whose ball is looked at from outside.
func madeForehand() *synth.Motion {
	return synth.NewSwing(synth.Spec{Stroke: body.Forehand, Level: body.Advanced, Hand: body.RightHanded, Stature: 1.8, Seed: 3})
}

// ballAt is the ball's place and velocity at t by central differences over 2 ms.
func ballAt(t *testing.T, m *synth.Motion, at float64) (p, v geom.Vec3) {
	t.Helper()
	const h = .001
	a, b, c := m.At(at-h), m.At(at), m.At(at+h)
	if !a.HasBall || !b.HasBall || !c.HasBall {
		t.Fatalf("no ball at %v s", at)
	}
	return b.P[body.Ball], c.P[body.Ball].Sub(a.P[body.Ball]).Scale(1 / (2 * h))
}

// drag reads gravity and the drag constant k of dv/dt = −k·|v|·v − g from a free
// flight over 0.1 s after the ball has left the strings.
func drag(t *testing.T) (g, k float64) {
	m := madeForehand()
	from := m.Struck[0].Contact + .03
	_, v0 := ballAt(t, m, from)
	_, v1 := ballAt(t, m, from+.1)
	_, mid := ballAt(t, m, from+.05)
	a := v1.Sub(v0).Scale(10)
	k = -a.Flat().Dot(mid.Flat()) / (mid.Norm() * mid.Flat().Dot(mid.Flat()))
	return -a.Y - k*mid.Norm()*mid.Y, k
}

// bounce is the ratio of vertical speeds at the bounce before the stroke.
func bounce(t *testing.T) float64 {
	m := madeForehand()
	at := bounceAt(m)
	_, down := ballAt(t, m, at-.006)
	_, up := ballAt(t, m, at+.006)
	const fell = 9.80665 * .006
	return (up.Y + fell) / -(down.Y - fell)
}

// bounceAt is the instant at which the ball is lowest before the stroke.
func bounceAt(m *synth.Motion) (at float64) {
	c := m.Struck[0].Contact
	low := math.Inf(1)
	for s := c - 1.2; s < c-.02; s += .0005 {
		p := m.At(s)
		if p.HasBall && p.P[body.Ball].Y < low {
			low, at = p.P[body.Ball].Y, s
		}
	}
	return at
}

// ballRows: the ball of the made swings, against which everything else is
// tested, obeys the rules of the game and published flight.
func ballRows() []row {
	return []row{
		{id: "G27 g", quantity: "free flight of a made ball: gravity", unit: "m/s²", want: 9.80665, tol: .02,
			got: func(t *testing.T) float64 { g, _ := drag(t); return g }, source: "standard gravity: 3rd CGPM 1901; BIPM, SI Brochure", seen: memory},
		{id: "G31 k", quantity: "its drag constant ρ·Cd·A/2m", unit: "1/m", want: .0186, tol: .0002,
			got: func(t *testing.T) float64 { _, k := drag(t); return k }, source: "Cd 0.507: Cross & Lindsey 2014, Sports Eng 17:89; ball by ITF rules, App. I", seen: readCalc},
		{id: "G31 loss", quantity: "speed lost to drag in 10 m", unit: "%", want: 17.0, tol: .2,
			got: func(t *testing.T) float64 { _, k := drag(t); return 100 * (1 - math.Exp(-10*k)) }, source: "the same", seen: computed},
		{id: "G26", quantity: "ratio of vertical speeds at its bounce (0.729 to 0.761 by the rules)", want: .745, tol: .016,
			got: bounce, source: "rebound of 135 to 147 cm from 254 cm: ITF rules, App. I", seen: readSecond},
		{id: "G28", quantity: "apparent restitution of a made forehand along the blow (0.10 at the tip to 0.50 at the throat)", want: .3, tol: .2,
			got: restitution, source: "Brody, Cross & Lindsey, The Physics and Technology of Tennis, ch. 11", seen: read},
		{id: "G28 relation", quantity: "ball out at e 0.40 from 15 m/s in and a racket at 20 m/s, by the same relation", unit: "m/s", want: 34, tol: 1e-9,
			got: value(leaving(.4, 15, 20)), source: "the same: out = e·in + (1 + e)·racket", seen: readCalc},
	}
}

// leaving is the ball's speed after a blow of apparent restitution e.
func leaving(e, in, racket float64) float64 { return e*in + (1+e)*racket }

// apparent is the e for which leaving(e, in, racket) is out.
func apparent(in, racket, out float64) float64 { return (out - racket) / (in + racket) }

// restitution of a made forehand, speeds taken along the ball's change of velocity.
func restitution(t *testing.T) float64 {
	m := madeForehand()
	k := m.Struck[0]
	const h = 1e-4
	head := func(at float64) geom.Vec3 { p := m.At(at).P; return p[body.RacketTip].Lerp(p[body.RacketThroat], .5) }
	racket := head(k.Contact - h).Sub(head(k.Contact - 2*h)).Scale(1 / h)
	n := k.Out.Sub(k.In).Unit()
	e := apparent(-k.In.Dot(n), racket.Dot(n), k.Out.Dot(n))
	if back := leaving(e, -k.In.Dot(n), racket.Dot(n)); math.Abs(back-k.Out.Dot(n)) > 1e-9 {
		t.Errorf("the relation and its inverse disagree: %v", back)
	}
	return e
}
