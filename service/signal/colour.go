package signal

import (
	"math"
	"slices"
)

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
const lags = 16 // a multiple of four

// Echo pools how series of errors resemble themselves some frames later. The zero
// value has heard nothing.
type Echo struct {
	sum, count  [lags]float64
	heard, here []float64 // room: a series with zeros where there was none, and ones where there was one
}

// Add hears a series of unit spread, a value a frame; NaN where there was none.
func (e *Echo) Add(errors []float64) {
	// Zeros before it stand in for what came before.
	e.heard, e.here = slices.Grow(e.heard[:0], lags+len(errors))[:lags], slices.Grow(e.here[:0], lags+len(errors))[:lags]
	clear(e.heard)
	clear(e.here)
	for _, v := range errors {
		one := 1.0
		if math.IsNaN(v) {
			v, one = 0, 0
		}
		e.heard, e.here = append(e.heard, v), append(e.here, one)
	}
	// Four lags at once, whose sums do not wait for each other.
	for k := 0; k < lags; k += 4 {
		sum, count := (*[4]float64)(e.sum[k:]), (*[4]float64)(e.count[k:])
		s0, s1, s2, s3 := sum[0], sum[1], sum[2], sum[3]
		n0, n1, n2, n3 := count[0], count[1], count[2], count[3]
		for i := lags; i < len(e.heard); i++ {
			x, n := e.heard[i], e.here[i]
			y, m := (*[4]float64)(e.heard[i-k-3:]), (*[4]float64)(e.here[i-k-3:])
			s0, s1, s2, s3 = s0+x*y[3], s1+x*y[2], s2+x*y[1], s3+x*y[0]
			n0, n1, n2, n3 = n0+n*m[3], n1+n*m[2], n2+n*m[1], n3+n*m[0]
		}
		*sum, *count = [4]float64{s0, s1, s2, s3}, [4]float64{n0, n1, n2, n3}
	}
}

// What lasts need not leave any white noise beside it; but a length that changes over
// longer than briefMemory, seconds, may be a segment's own, which bends or slides under its
// mark, and all of it is not taken for noise. SlowShare also bounds what may be believed where
// a white part has to be left over.
const (
	mostShare   = 0.999
	briefMemory = 0.09
	SlowShare   = 0.97
)

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
	for _, memory := range [...]float64{0.015, 0.021, 0.03, 0.042, 0.06, 0.085, 0.12, 0.17, 0.25, 0.35, 0.5} {
		var ab, bb float64
		for k := 1; k < lags; k++ {
			b := math.Exp(-float64(k) * step / memory)
			ab += rho[k] * b
			bb += b * b
		}
		most := mostShare
		if memory > briefMemory {
			most = SlowShare
		}
		share, miss := math.Max(0, math.Min(most, ab/bb)), 0.0
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
