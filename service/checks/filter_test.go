package checks

import (
	"math"

	"example.com/courtkin/service/signal"
)

const winter = "Winter, Biomechanics and Motor Control of Human Movement, §2.2.4"

// filterRows check the Butterworth filter and the differentiators.
func filterRows() []row {
	f := signal.Butterworth(6, 60)
	coefficient := func(id, name string, want, got float64) row {
		return row{id: id, quantity: "second-order Butterworth, 6 Hz at 60 Hz: " + name, want: want, tol: 5e-7,
			got: value(got), source: winter, seen: memoryCalc}
	}
	noise := func(id, name string, want float64, derive func([]float64) []float64) row {
		return row{id: id, quantity: "noise of the " + name + " over σ/dt^order", want: want, tol: 6e-5,
			got: value(spread(derive)), source: "root of the summed squared weights", seen: computed}
	}
	first := func(half int) func([]float64) []float64 {
		return func(x []float64) []float64 { d, _ := signal.Parabola(x, 1, half); return d }
	}
	return []row{
		coefficient("G37 a0", "a0", .067455, f.A0),
		coefficient("G37 a1", "a1", .134911, f.A1),
		coefficient("G37 a2", "a2", .067455, f.A2),
		coefficient("G37 b1", "b1", 1.142981, f.B1),
		coefficient("G37 b2", "b2", -.412802, f.B2),
		{id: "G36", quantity: "zero-lag filter, gain at its cutoff of 12 Hz at 240 Hz", want: math.Round(1e4*math.Sqrt(.5)) / 1e4, tol: 2e-4,
			got: value(gainAt(12, 240)), source: "Duarte & Watanabe, BMC notebooks (ResidualAnalysis), after Winter: C = 0.8022", seen: readCalc},
		noise("G35 3-point", "three-point central difference", .7071, first(1)),
		noise("G35 5-point", "five-point slope", .3162, first(2)),
		noise("G35 7-point", "seven-point slope", .1890, first(3)),
		noise("G35 9-point", "nine-point slope", .1291, first(4)),
		noise("G35 11-point", "eleven-point slope", .0953, first(5)),
		noise("G35 quartic", "five-point quartic-exact derivative", .9501, func(x []float64) []float64 { return signal.FivePoint(x, 1) }),
		noise("G35 second", "second difference", 2.4495, func(x []float64) []float64 { _, d := signal.Parabola(x, 1, 1); return d }),
	}
}

// spread is the sd of a differentiator's output in the middle of white unit noise.
func spread(derive func([]float64) []float64) float64 {
	sum := 0.0
	for i := range 41 {
		x := make([]float64, 41)
		x[i] = 1
		d := derive(x)[20]
		sum += d * d
	}
	return math.Sqrt(sum)
}

// gainAt is the in-phase amplitude with which the middle of a long sine at the
// cutoff passes the zero-lag filter.
func gainAt(cutoff, rate float64) float64 {
	x := make([]float64, 4000)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * cutoff * float64(i) / rate)
	}
	y := signal.ZeroLag(x, cutoff, rate)
	in, out := 0.0, 0.0
	for i := 1000; i < 3000; i++ {
		in += x[i] * x[i]
		out += x[i] * y[i]
	}
	return out / in
}
