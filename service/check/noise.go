package check

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/signal"
)

// lingering is the state of the lasting parts of one point's noise, along three
// axes, of unit variance.
type lingering struct {
	on   bool
	slow [3]float64
}

// next draws the errors of a point dt seconds after the last one; n is the noise
// along each axis. The axes share the first one's memory.
func (e *lingering) next(dt float64, n [3]signal.Noise, rng *rand.Rand) (out [3]float64) {
	a := 0.0
	if e.on && n[0].Memory > 0 {
		a = math.Exp(-dt / n[0].Memory)
	}
	e.on = true
	for k := range e.slow {
		e.slow[k] = a*e.slow[k] + math.Sqrt(1-a*a)*rng.NormFloat64()
		out[k] = n[k].Lasting*e.slow[k] + n[k].White*rng.NormFloat64()
	}
	return out
}

// unevenness is the root mean square of a noise that is not the same in every
// frame over what its robust sd shows: 1.08 for a third of log-spread.
const unevenness = 1.08

// scalar reads one coordinate of a point in a frame; ok is false when it was not seen.
type scalar func(f *body.Frame) (v float64, ok bool)

// differences appends the fourth differences over √70 of a scalar, where five
// frames in a row show it.
func differences(out []float64, frames []body.Frame, read scalar) []float64 {
	var run [5]float64
	n := 0
	for i := range frames {
		v, ok := read(&frames[i])
		if !ok {
			n = 0
			continue
		}
		copy(run[:], run[1:])
		run[4] = v
		if n++; n >= 5 {
			out = append(out, (run[0]-4*run[1]+6*run[2]-4*run[3]+run[4])/math.Sqrt(70))
		}
	}
	return out
}

// leastDifferences is how many differences tell a noise: an sd from 30 is good to
// a fifth (robust, neighbours alike).
const leastDifferences = 30

// measured returns the noise that differences show; ok is false for too few.
func measured(d []float64, c signal.Colour, step float64) (signal.Noise, bool) {
	if len(d) < leastDifferences || !(step > 0) {
		return signal.Noise{}, false
	}
	return c.Split(unevenness*signal.MAD(d), step), true
}

// rigid are segments whose length is constant to a few millimetres.
var rigid = [...][2]body.Point{
	{body.LeftShoulder, body.LeftElbow}, {body.RightShoulder, body.RightElbow},
	{body.LeftElbow, body.LeftWrist}, {body.RightElbow, body.RightWrist},
	{body.LeftHip, body.LeftKnee}, {body.RightHip, body.RightKnee},
	{body.LeftKnee, body.LeftAnkle}, {body.RightKnee, body.RightAnkle},
	{body.LeftHip, body.RightHip}, {body.LeftShoulder, body.RightShoulder},
}

// colourOf learns how noise lasts from world points: from the lengths of rigid
// segments, frame after frame; step is the frames' interval, s.
func colourOf(frames []body.Frame, step float64) signal.Colour {
	var e signal.Echo
	for _, s := range rigid {
		e.Add(lengthErrors(frames, s))
	}
	return e.Colour(step)
}

// lengthErrors returns a segment's length by frame, less the median, over the
// spread; NaN where it was not seen or is wild; nil when seen too seldom.
func lengthErrors(frames []body.Frame, s [2]body.Point) []float64 {
	l := make([]float64, len(frames))
	for i := range frames {
		a, b := frames[i].World[s[0]], frames[i].World[s[1]]
		l[i] = math.NaN()
		if a.Score > 0 && b.Score > 0 {
			l[i] = at3(a).Sub(at3(b)).Norm()
		}
	}
	return signal.Deviations(l, finest)
}

// finest is the least spread of a length that is taken for noise, m.
const finest = 1e-6
