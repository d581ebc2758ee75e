package signal

import "math"

// Noise is the error of a scalar from frame to frame: a white part and a part
// that lasts (first order: it is forgotten by a factor e in Memory). The zero
// value is none.
type Noise struct {
	White, Lasting float64 // sd, in the scalar's unit
	Memory         float64 // s, correlation time of the lasting part
}

// Total is the sd of the whole noise.
func (n Noise) Total() float64 { return math.Hypot(n.White, n.Lasting) }

// Scaled returns the noise times k.
func (n Noise) Scaled(k float64) Noise {
	n.White, n.Lasting = k*n.White, k*n.Lasting
	return n
}

// Colour is how a noise's variance divides over time: the share that lasts
// (0 … 1), and its memory in seconds.
type Colour struct{ Share, Memory float64 }

// UsualColour is believed where nothing rigid was seen well for long enough: pose
// estimators smooth over some frames. Common practice, no source.
var UsualColour = Colour{Share: 0.3, Memory: 0.1}

// Split takes the noise that fourth differences show apart into its white and its
// lasting part; step is the frames' interval in seconds, differences the robust sd
// of fourth differences over √70, which white noise of that sd would show. A
// lasting part of correlation φ = e^(−step/memory) shows less of itself: the
// variance of the differences is σ²·((1 − share)·70 + share·v(φ)).
func (c Colour) Split(differences, step float64) Noise {
	binomial := [5]float64{1, -4, 6, -4, 1}
	phi, v := math.Exp(-step/c.Memory), 0.0
	for i, a := range binomial {
		for j, b := range binomial {
			v += a * b * math.Pow(phi, math.Abs(float64(i-j)))
		}
	}
	total := differences * math.Sqrt(70/((1-c.Share)*70+c.Share*v))
	return Noise{White: total * math.Sqrt(1-c.Share), Lasting: total * math.Sqrt(c.Share), Memory: c.Memory}
}

// lags is over how many frames errors are compared with themselves.
const lags = 16

// Echo pools how series of errors resemble themselves some frames later. The zero
// value has heard nothing.
type Echo struct{ sum, count [lags]float64 }

// Add hears a series of unit spread, a value a frame; NaN where there was none.
func (e *Echo) Add(errors []float64) {
	for k := range lags {
		for i := k; i < len(errors); i++ {
			if v := errors[i] * errors[i-k]; !math.IsNaN(v) {
				e.sum[k] += v
				e.count[k]++
			}
		}
	}
}

// leastHeard is how many errors tell a colour at all.
const leastHeard = 200

// Colour returns the share and the memory whose autocorrelation
// share·e^(−t/memory) is nearest to what was heard; step is the frames' interval
// in seconds. UsualColour when too little was heard.
func (e *Echo) Colour(step float64) Colour {
	if e.count[0] < leastHeard || !(e.sum[0] > 0) {
		return UsualColour
	}
	var rho [lags]float64
	for k := 1; k < lags; k++ {
		rho[k] = e.sum[k] / math.Max(e.count[k], 1) / (e.sum[0] / e.count[0])
	}
	best, least := UsualColour, math.Inf(1)
	for _, memory := range []float64{0.015, 0.03, 0.06, 0.12, 0.25, 0.5} {
		var ab, bb float64
		for k := 1; k < lags; k++ {
			b := math.Exp(-float64(k) * step / memory)
			ab += rho[k] * b
			bb += b * b
		}
		share, miss := math.Max(0, math.Min(0.97, ab/bb)), 0.0
		for k := 1; k < lags; k++ {
			d := rho[k] - share*math.Exp(-float64(k)*step/memory)
			miss += d * d
		}
		if miss < least {
			best, least = Colour{share, memory}, miss
		}
	}
	return best
}

// Deviations replaces values, in place, by their distance from the median over
// their spread (MAD as sd, at least floor, in the values' unit); NaN where there
// was none or it is wilder than 4 spreads. It returns nil for fewer than 20 values.
func Deviations(values []float64, floor float64) []float64 {
	known := make([]float64, 0, len(values))
	for _, v := range values {
		if !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	if len(known) < 20 {
		return nil
	}
	middle := medianOf(known)
	for i, v := range known {
		known[i] = math.Abs(v - middle)
	}
	spread := math.Max(madToSD*medianOf(known), floor)
	for i := range values {
		if values[i] = (values[i] - middle) / spread; !(math.Abs(values[i]) < 4) {
			values[i] = math.NaN()
		}
	}
	return values
}
