package checks

import (
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// Sources of the body's proportions.
const (
	drillis = "Drillis & Contini 1966, in Winter, Biomechanics and Motor Control of Human Movement, fig. 4.1"
	deLeva  = "de Leva 1996, J Biomech 29:1223, table 4, as in the BMC notebooks"
)

// massFractions are de Leva's for men and women: head, trunk, then upper arm, forearm,
// hand, thigh, shank and foot, of which there are two each.
var massFractions = [2][8]float64{
	{.0694, .4346, .0271, .0162, .0061, .1416, .0433, .0137},
	{.0668, .4257, .0255, .0138, .0056, .1478, .0481, .0129},
}

// trunkParts are de Leva's upper, middle and lower trunk, which make the trunk.
var trunkParts = [2][3]float64{{.1596, .1633, .1117}, {.1545, .1465, .1247}}

// wholeBody is the sum of the mass fractions, percent, the trunk by its parts.
func wholeBody(sex int) float64 {
	sum := massFractions[sex][0]
	for _, v := range trunkParts[sex] {
		sum += v
	}
	for _, v := range massFractions[sex][2:] {
		sum += 2 * v
	}
	return 100 * sum
}

// proportion is the mean share of stature of a length over made bodies, which differ by
// 2.5 % each way.
func proportion(of func(b synth.Build) float64) func(*testing.T) float64 {
	return func(*testing.T) float64 {
		const bodies = 40
		sum := 0.0
		for seed := range uint64(bodies) {
			b := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Seed: 300 + seed}).Build
			sum += of(b) / b.Stature / bodies
		}
		return sum
	}
}

// bodyRows hold the made bodies, on whom all else is tried, against published proportions.
func bodyRows() []row {
	share := func(id, quantity string, want float64, of func(b synth.Build) float64) row {
		return row{id: "body " + id, quantity: "made bodies: " + quantity + " over stature, mean of 40", want: want, tol: .015 * want, source: drillis, seen: memory, got: proportion(of)}
	}
	return []row{
		share("upper arm", "upper arm", .186, func(b synth.Build) float64 { return b.UpperArm }),
		share("forearm", "forearm", .146, func(b synth.Build) float64 { return b.Forearm }),
		share("thigh", "thigh", .245, func(b synth.Build) float64 { return b.Thigh }),
		share("shank", "shank", .246, func(b synth.Build) float64 { return b.Shank }),
		share("trunk", "shoulder to hip", .288, func(b synth.Build) float64 { return b.Trunk }),
		share("ankle", "height of the ankle", .039, func(b synth.Build) float64 { return b.AnkleHeight }),
		{id: "G47 men", quantity: "mass fractions of the body's segments as copied here, the trunk by its three parts: sum", unit: "%", want: 100, tol: .011, source: deLeva, seen: readCalc, got: value(wholeBody(0))},
		{id: "G47 women", quantity: "the same, women", unit: "%", want: 99.99, tol: .011, source: deLeva, seen: readCalc, got: value(wholeBody(1))},
	}
}

// contradicts is how many of the recordings of a built forehand bear the warning that ball
// and racket contradict each other; the racket's head meets the ball at speed in m/s, the
// ball comes in at 12 m/s and leaves as it would with the apparent restitution e.
func contradicts(speed, e float64) func(t *testing.T) float64 {
	b := forehand(speed, .16, -.093, -.075)
	b.ballOut = leaving(e, b.ballIn, speed)
	return func(t *testing.T) (n float64) {
		for seed := range uint64(draws) {
			found, err := run(b.settled().filmed(seed))
			if err != nil || len(found) != 1 {
				t.Fatal(len(found), err)
			}
			for _, w := range found[0].Warnings {
				if w.Code == swing.WarnImpact {
					n++
				}
			}
		}
		return n
	}
}

// restitutionRows: the service's own cross-check of racket by ball on swings built to it.
func restitutionRows() []row {
	const brody = "Brody, Cross & Lindsey, The Physics and Technology of Tennis, ch. 11"
	rows := []row{}
	for _, c := range []struct {
		id, where string
		e, want   float64
	}{{"G28 agree", "0.40, a hit near the middle", .40, 0}, {"G29 throat", "0.50, one at the throat", .50, 0}, {"G29 tip", "0.10, one at the tip", .10, 0},
		{"G28 too slow", "−0.30: a ball slower than any string bed sends it", -.30, draws}, {"G28 too fast", "1.10: one faster", 1.10, draws}} {
		rows = append(rows, row{id: c.id, quantity: "built forehand, ball out by the relation at e = " + c.where + ": recordings of three that warn that ball and racket contradict each other",
			want: c.want, tol: .1, source: brody, seen: read, got: contradicts(15.4, c.e)})
	}
	return rows
}
