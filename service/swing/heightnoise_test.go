package swing

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// TestHeightNoise: a draw that wanders by 2 cm about the mean, on samples of its own and
// shifted as a whole, is told to wander by 2 cm.
func TestHeightNoise(t *testing.T) {
	made := func(step, wander, shift float64) *track.Course {
		c := &track.Course{}
		rng := rand.New(rand.NewPCG(1, 2))
		for x := 0.0; x < 2; x += step {
			c.T = append(c.T, x)
			c.Pos[body.LeftAnkle] = append(c.Pos[body.LeftAnkle], geom.Vec3{Y: 0.1*x + shift + wander*math.Sqrt2*math.Sin(40*x)})
			c.Pos[body.RightAnkle] = append(c.Pos[body.RightAnkle], geom.Vec3{X: rng.Float64(), Y: shift + wander*math.Sqrt2*math.Cos(50*x)})
		}
		c.Break = len(c.T) - 2
		c.Has[body.LeftAnkle], c.Has[body.RightAnkle] = true, true
		return c
	}
	mean := made(0.004, 0, 0)
	if got := heightNoise(mean, made(0.0037, 0.02, 0.3), body.LeftAnkle, body.RightAnkle); math.Abs(got-0.02) > 0.001 {
		t.Errorf("a wander of 0.02 m is told as %.4f", got)
	}
	if got := heightNoise(mean, mean, body.LeftAnkle, body.RightAnkle); got > 1e-12 {
		t.Errorf("the mean wanders by %g about itself", got)
	}
	if got := heightNoise(mean, mean, body.RacketTip); got != 0 {
		t.Errorf("a tip that was not seen wanders by %g", got)
	}
}
