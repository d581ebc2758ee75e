package checks

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/swing"
)

// onset is how long before contact the level speed of a built swing's hand toward the
// ball rises through 5 % of its last value, s: FORWARD_START by its definition.
func (b built) onset() float64 {
	const h = 1e-5
	toward := b.head(-1e-9).Sub(b.head(-.040)).Flat().Unit()
	speed := func(t float64) float64 { return b.grip(t).Sub(b.grip(t-h)).Dot(toward) / h }
	last := speed(-h)
	for t := -h; t > -1; t -= .0002 {
		if speed(t) < .05*last {
			return -t
		}
	}
	return math.NaN()
}

// turningAt is the trunk turn moved so that it is fastest 10 ms before contact and
// stretched so that it unwinds at rate °/s at contact: what is published of turning at
// contact and of its peak comes from unlike players.
func (u trunkTurn) turningAt(rate float64) trunkTurn {
	const h = 1e-5
	u.from, u.peak = -.13, -.01
	now := (u.at(-h) - u.at(0)) / h * 180 / math.Pi
	u.span *= rate / now
	return u
}

// traced analyses one recording of a built swing and reads its trace.
func (b built) traced(t *testing.T, seed uint64) *measure.Sheet {
	b = b.settled()
	setup := swing.Setup{Trace: true, Axes: camera.AxesCourt, Player: body.Player{Hand: body.RightHanded, Stature: 1.78}}
	found, err := play(setup, b.filmed(seed))
	if err != nil || len(found) != 1 {
		t.Fatal(len(found), err)
	}
	return found[0]
}

// slope is the rate of a curve of the trace at contact, from before it: of the cubic
// through four samples 17 ms apart. A parabola over the same 50 ms would read 36 °/s too
// much of a turn of 460 °/s whose rate has its peak, with 0.24 s from foot to foot, 10 ms
// before contact.
func slope(s *measure.Sheet, name string) float64 {
	v := curveOf(s, name)
	for i, at := range s.Trace.Times {
		if math.Abs(float64(at)) < 1e-6 && i >= 6 && v != nil {
			return edge(v[i], v[i-2], v[i-4], v[i-6], 2*measure.TraceStep)
		}
	}
	return math.NaN()
}

// edge is the derivative at the last of four samples h apart, given the last first, of
// the cubic through them.
func edge(a, b, c, d, h float64) float64 { return (11*a - 18*b + 9*c - 2*d) / (6 * h) }

// TestSlopeReadsABuiltTurn: the reading itself is within 2 °/s on the turn without noise.
func TestSlopeReadsABuiltTurn(t *testing.T) {
	const h = 2 * measure.TraceStep
	for _, rate := range []float64{453, 295, 292, 168} {
		u := trunkTurn{95, 80, -.12, -.057}.turningAt(rate)
		if got := -edge(u.at(0), u.at(-h), u.at(-2*h), u.at(-3*h), h) * 180 / math.Pi; math.Abs(got-rate) > 2 {
			t.Errorf("%.1f °/s, built to %g", got, rate)
		}
	}
}

// goldenRows: the rest of the published figures that a swing can be built to.
func goldenRows() []row {
	// The forward sweep that puts the hand's onset at the published instant.
	starting := func(b built, onset float64) built {
		for range 20 {
			b.forward *= onset / b.settled().onset()
		}
		return b
	}
	two := starting(backhand(71.1, 47.4), .08)
	one := backhand(30.1, 19)
	one.stroke, one.ahead, one.side = body.OneHandedBackhand, .59, .75
	one.shoulders.max, one.hips.max = 119.1, 95
	one = starting(one, .13)
	elite := forehand(33.1, .13, -.075, -.057)
	elite.shoulders, elite.hips = elite.shoulders.turningAt(453), elite.hips.turningAt(295)
	high := forehand(31.1, .16, -.093, -.075)
	high.shoulders, high.hips = high.shoulders.turningAt(292), high.hips.turningAt(168)
	men, women := forehand(33.1, .13, -.075, -.057), forehand(31.1, .13, -.075, -.057)
	men.ballOut, women.ballOut = 50.8, 41.5
	m, w := men.figures(), women.figures()
	t2, t1 := two.figures(), one.figures()
	rate := func(id, quantity, curve string, want float64, b built) row {
		return row{id: id, quantity: quantity, unit: "°/s", want: want, tol: 30, source: "Landlinger et al. 2010, Sports Biomech 9:280", seen: read,
			got: func(t *testing.T) float64 { return -slope(b.traced(t, 1), curve) }}
	}
	contact := func(id, quantity string, want float64, name string, m medians) row {
		return row{id: id, quantity: quantity + ": `" + name + "`", unit: "m", want: want, tol: .03, got: m.figure(name), source: reid, seen: read}
	}
	return []row{
		{id: "G04 two", quantity: "two-handed backhand, hand starts forward before contact: `tempo.forward_swing`", unit: "s", want: .08, tol: .01, got: t2.figure("tempo.forward_swing"), source: reid, seen: read},
		{id: "G04 one", quantity: "the same, one-handed", unit: "s", want: .13, tol: .01, got: t1.figure("tempo.forward_swing"), source: reid, seen: read},
		{id: "G01 one", quantity: "one-handed backhand, shoulders at the end of the take-back: `turn.shoulders.max`", unit: "°", want: 119.1, tol: 2, got: t1.figure("turn.shoulders.max"), source: reid, seen: read},
		contact("G02 one", "one-handed backhand, contact ahead of the body", .59, "contact.ahead", t1),
		contact("G03 one", "the same, 0.75 m to the side and 0.59 m ahead", .954, "spacing.reach", t1),
		{id: "G06 one", quantity: "one-handed backhand, shoulders turned from forward start to contact: `turn.shoulders.forward_range`", unit: "°", want: 30.1, tol: 2, got: t1.figure("turn.shoulders.forward_range"), source: stepien, seen: readSecond},
		{id: "G05", quantity: "forehand, tip speed 5 ms before contact, read from the trace, over the swing's own", want: 1, tol: .02, source: reid + " (the instant)", seen: read,
			got: func(t *testing.T) float64 {
				b := high.settled()
				const h = 1e-5
				true5 := b.place(-.005)[body.RacketTip].Sub(b.place(-.005 - h)[body.RacketTip]).Norm() / h
				return traceAt(b.traced(t, 1), "racket_speed.tip", -.005) / true5
			}},
		rate("G14 trunk elite", "forehand, upper trunk turning at contact, elite: slope of the trace", "shoulder_turn", 453, elite),
		rate("G14 pelvis elite", "the same, pelvis", "hip_turn", 295, elite),
		rate("G14 trunk high", "the same, upper trunk, high performance", "shoulder_turn", 292, high),
		rate("G14 pelvis high", "the same, pelvis", "hip_turn", 168, high),
		{id: "G21 men", quantity: "ball leaves as fast as a serve, men: `ball.speed_out`", unit: "m/s", want: 50.8, tol: 1, got: m.figure("ball.speed_out"), source: "Fleisig et al. 2003, Sports Biomech 2:51", seen: read},
		{id: "G21 women", quantity: "the same, women", unit: "m/s", want: 41.5, tol: .8, got: w.figure("ball.speed_out"), source: "Fleisig et al. 2003, Sports Biomech 2:51", seen: read},
	}
}

// fallRows: 2.54 m of fall filmed at 240 Hz, the air's part taken off.
func fallRows() []row {
	fall, ok := camera.FitFall(dropped(240, 240))
	if !ok {
		fall.G = math.NaN()
	}
	return []row{
		{id: "G27 time", quantity: "a ball dropped 2.54 m at 240 Hz: time of the fall without air, by the gravity read from it", unit: "s", want: .7197, tol: .005,
			got: value(math.Sqrt(2 * 2.54 / fall.G)), source: "√(2·2.54/g)", seen: computed},
		{id: "G27 speed", quantity: "its speed at the ground likewise", unit: "m/s", want: 7.058, tol: .05, got: value(math.Sqrt(2 * 2.54 * fall.G)), source: "√(2·g·2.54)", seen: computed},
		{id: "G27 frames", quantity: "frames that it fills at 240 Hz by the same", want: 172.7, tol: 1.2, got: value(240 * math.Sqrt(2*2.54/fall.G)), source: "240·√(2·2.54/g)", seen: computed},
	}
}

// savgolApart compares slope and curvature of a moving parabola, ends left out, with
// SciPy's Savitzky–Golay filter, over the sizes that they have here.
func savgolApart(t *testing.T) float64 {
	_, y := wave(200, false, 8)
	worst := 0.
	for half := 1; half <= 5; half++ {
		var a struct{ First, Second []float64 }
		ask(t, "scipy_derivative.py", map[string]any{"y": y, "half": half, "dt": 1. / 120}, &a)
		d, dd := signal.Parabola(y, 1./120, half)
		for i := half; i < len(y)-half; i++ {
			worst = max(worst, math.Abs(d[i]-a.First[i])/100, math.Abs(dd[i]-a.Second[i])/1e4)
		}
	}
	return worst
}

func circleApart(t *testing.T) float64 {
	worst := 0.
	for seed := range uint64(10) {
		_, y := wave(30, true, seed)
		degrees := make([]float64, len(y))
		for i := range y {
			degrees[i] = 360 * y[i]
		}
		var a struct{ Mean, SD float64 }
		ask(t, "scipy_circle.py", map[string]any{"degrees": degrees}, &a)
		our := circular(degrees...)
		worst = max(worst, math.Abs(math.Remainder(our.Mean.Degrees()-a.Mean, 360)), math.Abs(our.SD().Degrees()-a.SD))
	}
	return worst
}
