package synth

import (
	"math"
	"math/rand/v2"
)

// draw is a source of chance; the same seed and stream give the same numbers.
type draw struct{ *rand.Rand }

// Streams keep motion, capture and noise apart, so that one can be redrawn alone.
const (
	streamMotion = iota + 1
	streamBody
	streamScene
	streamNoise
	streamPractice
)

func newDraw(seed uint64, stream uint64) draw {
	return draw{rand.New(rand.NewPCG(seed, stream*0x9e3779b97f4a7c15))}
}

// in returns a number even in [a, b).
func (d draw) in(a, b float64) float64 { return a + (b-a)*d.Float64() }

// about returns a normal number cut at 2.2 sd.
func (d draw) about(mean, sd float64) float64 {
	return mean + sd*math.Max(-2.2, math.Min(2.2, d.NormFloat64()))
}

func (d draw) chance(p float64) bool { return d.Float64() < p }
