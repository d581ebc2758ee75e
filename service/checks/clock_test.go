package checks

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// dropped is a ball let go at 2.54 m (the height of the rules' rebound test),
// filmed at capture Hz with 5 mm of noise and shown at shown Hz. Air holds it
// back by 0.0186 per metre.
func dropped(capture, shown float64) camera.Arc {
	rng := rand.New(rand.NewPCG(2, 54))
	const fine, drag, g = 100, .0186, 9.80665
	arc := camera.Arc{Noise: .005}
	y, v := 2.54, 0.0
	for k := 0; y > .0333; k++ {
		n := geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}
		arc.T = append(arc.T, float64(k)/shown)
		arc.World = append(arc.World, geom.Vec3{X: 3, Y: y}.Add(n.Scale(arc.Noise)))
		for range fine {
			h := 1 / capture / fine
			v += h * (g - drag*v*v)
			y -= h * v
		}
	}
	return arc
}

// clockRows check the reading of a clip's clock from what falls in it.
func clockRows() []row {
	var rows []row
	for _, c := range []struct{ capture, shown, gravity float64 }{
		{240, 240, 9.807}, {120, 30, .613}, {240, 60, .613}, {240, 30, .153}, {480, 30, .0383},
	} {
		name := fmt.Sprintf("%g→%g", c.capture, c.shown)
		arc := dropped(c.capture, c.shown)
		fall, ok := camera.FitFall(arc)
		if !ok {
			fall.G = math.NaN()
		}
		clock := camera.CheckClock([]camera.Fall{fall}, 0.01, camera.Tempo{}, camera.Camera{}, 1/c.shown)
		const source = "g/S², S = capture rate ÷ shown rate"
		rows = append(rows,
			row{id: "G50 " + name, quantity: fmt.Sprintf("ball dropped 2.54 m, filmed at %g Hz, shown at %g Hz: gravity on the clip's clock", c.capture, c.shown),
				unit: "m/s²", want: c.gravity, tol: math.Round(500*c.gravity) / 1e4, got: value(fall.G), source: source, seen: computed},
			row{id: "G50 factor " + name, quantity: "slow-motion factor found from it, none stated", want: c.capture / c.shown, tol: .05 * c.capture / c.shown,
				got: value(clock.Factor), source: source, seen: computed})
	}
	return rows
}

// The drop lasts 0.7197 s without air (G27); with air a little longer.
func TestDropLastsAsLongAsItShould(t *testing.T) {
	arc := dropped(240, 240)
	last := arc.T[len(arc.T)-1]
	free := math.Sqrt(2 * (2.54 - .0333) / 9.80665)
	if last < free-1./240 || last > free+.012 {
		t.Errorf("the made drop lasts %v s, without air %v s", last, free)
	}
}
