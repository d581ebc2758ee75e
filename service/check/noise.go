package check

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/signal"
)

// noise is the error of a scalar from frame to frame: a white part and a part
// that lasts (first order). The zero value is none.
type noise struct {
	white, lasting float64 // sd, in the scalar's unit
	memory         float64 // s, correlation time of the lasting part
}

// total is the sd of the whole.
func (n noise) total() float64 { return math.Hypot(n.white, n.lasting) }

// scaled returns the noise times k.
func (n noise) scaled(k float64) noise {
	n.white, n.lasting = k*n.white, k*n.lasting
	return n
}

// lingering is the state of the lasting parts of one point's noise, along three
// axes, of unit variance.
type lingering struct {
	on   bool
	slow [3]float64
}

// next draws the errors of a point dt seconds after the last one; n is the noise
// along each axis. The axes share the first one's memory.
func (e *lingering) next(dt float64, n [3]noise, rng *rand.Rand) (out [3]float64) {
	a := 0.0
	if e.on && n[0].memory > 0 {
		a = math.Exp(-dt / n[0].memory)
	}
	e.on = true
	for k := range e.slow {
		e.slow[k] = a*e.slow[k] + math.Sqrt(1-a*a)*rng.NormFloat64()
		out[k] = n[k].lasting*e.slow[k] + n[k].white*rng.NormFloat64()
	}
	return out
}

// colour is how a noise's variance divides over time: the share that lasts, and
// its memory in seconds.
type colour struct{ share, memory float64 }

// usualColour is believed where no segment was seen in space for long enough, as
// the tracking stage believes it. Common practice, no source.
var usualColour = colour{0.3, 0.1}

// unevenness is the root mean square of a noise that is not the same in every
// frame over what its robust sd shows: 1.08 for a third of log-spread.
const unevenness = 1.08

// split takes the robust sd of fourth differences over √70, which white noise of
// that sd would show, apart into white and lasting: a lasting part of correlation
// φ from frame to frame shows less of itself. step is the frames' interval, s.
func (c colour) split(differences, step float64) noise {
	binomial := [5]float64{1, -4, 6, -4, 1}
	phi, v := math.Exp(-step/c.memory), 0.0
	for i, a := range binomial {
		for j, b := range binomial {
			v += a * b * math.Pow(phi, math.Abs(float64(i-j)))
		}
	}
	total := differences * math.Sqrt(70/((1-c.share)*70+c.share*v))
	return noise{white: total * math.Sqrt(1-c.share), lasting: total * math.Sqrt(c.share), memory: c.memory}
}

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
func measured(d []float64, c colour, step float64) (noise, bool) {
	if len(d) < leastDifferences || !(step > 0) {
		return noise{}, false
	}
	return c.split(unevenness*signal.MAD(d), step), true
}

// rigid are segments whose length is constant to a few millimetres.
var rigid = [...][2]body.Point{
	{body.LeftShoulder, body.LeftElbow}, {body.RightShoulder, body.RightElbow},
	{body.LeftElbow, body.LeftWrist}, {body.RightElbow, body.RightWrist},
	{body.LeftHip, body.LeftKnee}, {body.RightHip, body.RightKnee},
	{body.LeftKnee, body.LeftAnkle}, {body.RightKnee, body.RightAnkle},
	{body.LeftHip, body.RightHip}, {body.LeftShoulder, body.RightShoulder},
}

// lags is over how many frames the lengths' errors are compared with themselves.
const lags = 13

// colourOf learns how noise lasts from world points: from the autocorrelation of
// the lengths of rigid segments, each over its spread.
func colourOf(frames []body.Frame, step float64) colour {
	var sum, count [lags]float64
	for _, s := range rigid {
		e := lengthErrors(frames, s)
		for k := range lags {
			for i := k; i < len(e); i++ {
				if v := e[i] * e[i-k]; !math.IsNaN(v) {
					sum[k] += v
					count[k]++
				}
			}
		}
	}
	if count[0] < 200 || !(sum[0] > 0) {
		return usualColour
	}
	var rho [lags]float64
	for k := 1; k < lags; k++ {
		rho[k] = sum[k] / math.Max(count[k], 1) / (sum[0] / count[0])
	}
	return fitColour(rho, step)
}

// fitColour finds the share and memory whose share·e^(−t/memory) is nearest.
func fitColour(rho [lags]float64, step float64) colour {
	best, least := usualColour, math.Inf(1)
	for _, memory := range []float64{0.015, 0.03, 0.06, 0.12, 0.25, 0.5} {
		var ab, bb float64
		for k := 1; k < lags; k++ {
			b := math.Exp(-float64(k) * step / memory)
			ab, bb = ab+rho[k]*b, bb+b*b
		}
		share, miss := math.Max(0, math.Min(0.95, ab/bb)), 0.0
		for k := 1; k < lags; k++ {
			d := rho[k] - share*math.Exp(-float64(k)*step/memory)
			miss += d * d
		}
		if miss < least {
			best, least = colour{share, memory}, miss
		}
	}
	return best
}

// lengthErrors returns a segment's length by frame, less the median, over the
// spread; NaN where it was not seen or is wild; nil when seen too seldom.
func lengthErrors(frames []body.Frame, s [2]body.Point) []float64 {
	l := make([]float64, len(frames))
	var known []float64
	for i := range frames {
		a, b := frames[i].World[s[0]], frames[i].World[s[1]]
		l[i] = math.NaN()
		if a.Score > 0 && b.Score > 0 {
			l[i] = at3(a).Sub(at3(b)).Norm()
			known = append(known, l[i])
		}
	}
	if len(known) < 20 {
		return nil
	}
	middle, spread := signal.Median(known), math.Max(signal.MAD(known), 1e-6)
	for i := range l {
		if l[i] = (l[i] - middle) / spread; !(math.Abs(l[i]) < 4) {
			l[i] = math.NaN()
		}
	}
	return l
}
