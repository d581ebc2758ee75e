package checks

import (
	"fmt"
	"math"

	"example.com/courtkin/service/signal"
)

// blow is a head speed that rises as sin² to 25 m/s in 100 ms, loses a share of
// itself in 5 ms at impact (time 0), and dies away evenly in 150 ms.
type blow struct{ loss float64 }

const (
	blowPeak = 25.0  // m/s
	blowRise = 0.100 // s
	blowHit  = 0.005 // s
	blowFall = 0.150 // s
)

func (b blow) speed(t float64) float64 {
	after := blowPeak * (1 - b.loss)
	switch {
	case t < -blowRise:
		return 0
	case t <= 0:
		s := math.Sin(math.Pi / 2 * (1 + t/blowRise))
		return blowPeak * s * s
	case t < blowHit:
		return blowPeak + (after-blowPeak)*t/blowHit
	case t < blowHit+blowFall:
		c := 1 - (t-blowHit)/blowFall
		return after * c
	}
	return 0
}

// path samples the position at rate Hz over ±0.4 s; impact is sample middle.
func (b blow) path(rate float64) (x []float64, middle int) {
	const fine = 400
	middle = int(0.4 * rate)
	x = make([]float64, 2*middle+1)
	for i := 1; i < len(x); i++ {
		x[i] = x[i-1]
		for k := range fine {
			x[i] += b.speed((float64(i-1-middle)+(float64(k)+.5)/fine)/rate) / rate / fine
		}
	}
	return x, middle
}

const impactSource = "own simulation, method after Reid, Campbell & Elliott 2012, J Appl Biomech 28:93 (endpoint treatments near impact)"

// smoothedThrough is the error in percent of the speed at impact when the record
// is filtered across it.
func smoothedThrough(loss, cutoff float64) float64 {
	x, i := blow{loss}.path(1000)
	v, _ := signal.Parabola(signal.ZeroLag(x, cutoff, 1000), 1./1000, 1)
	return 100 * (v[i]/blowPeak - 1)
}

// cutThenFiltered is the same when the record ends at impact.
func cutThenFiltered(cutoff float64) float64 {
	x, i := blow{.5}.path(1000)
	v, _ := signal.Parabola(signal.ZeroLag(x[:i+1], cutoff, 1000), 1./1000, 1)
	return 100 * (v[i]/blowPeak - 1)
}

// impactRows show why nothing is smoothed across contact.
func impactRows() []row {
	through := func(loss, cutoff, want float64) row {
		return row{id: fmt.Sprintf("impact %g %% %g Hz", 100*loss, cutoff),
			quantity: fmt.Sprintf("head loses %g %% at impact, filtered through at %g Hz: error of speed", 100*loss, cutoff),
			unit:     "%", want: want, tol: 1, got: value(smoothedThrough(loss, cutoff)), source: impactSource, seen: computed}
	}
	return []row{
		through(.3, 6, -20), through(.3, 10, -15), through(.3, 20, -12),
		through(.5, 6, -29), through(.5, 10, -23), through(.5, 20, -19),
		through(.7, 6, -37), through(.7, 10, -31), through(.7, 20, -26),
		{id: "impact cut 10 Hz", quantity: "cut at impact, then filtered at 10 Hz: error of speed", unit: "%", want: -1, tol: 1.5,
			got: value(cutThenFiltered(10)), source: impactSource, seen: computed},
	}
}
