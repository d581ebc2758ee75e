package camera

import (
	"math"
	"slices"

	"example.com/courtkin/service/signal"
)

const (
	// hopRise is how far the lower ankle must rise, metres (measures.md, SPLIT_LANDING).
	hopRise = 0.02
	// hopModelSD is the relative error of a hop's acceleration beside its noise: the
	// legs move against the hips in flight. Common practice, no source.
	hopModelSD = 0.15
	hopLeast   = 8 // samples in flight
	// hopClear is 3 sd of a standing foot's height over the distance of its quantiles 0.3
	// and 0.05, 1.12 sd of a normal error.
	hopClear = 2.7
	// hopSure is the relative error up to which a hop counts: a step, or a foot that is
	// seen too high, looks like a poor one.
	hopSure = 0.3
)

// HopFalls finds the flights of the body (split steps, jumps of a serve): while the
// lower ankle is off the ground the hips fall freely. t is in seconds on the clip's
// clock; hip and the ankles are heights in metres, NaN where not seen.
func HopFalls(t, hip, leftAnkle, rightAnkle []float64) []Fall {
	n := min(len(t), len(hip), len(leftAnkle), len(rightAnkle))
	low := make([]float64, n)
	for i := range low {
		low[i] = min(leftAnkle[i], rightAnkle[i])
		if math.IsNaN(leftAnkle[i]) || math.IsNaN(rightAnkle[i]) {
			low[i] = math.NaN()
		}
	}
	known := slices.DeleteFunc(slices.Clone(low), math.IsNaN)
	if len(known) < arcLeast {
		return nil
	}
	ground, noise := quantile(known, 0.3), heightNoise(low)
	// Off the ground must be clear of the noise, of what lasts over frames, too: that is
	// seen in how far a foot that stands goes under the ground.
	limit := ground + max(hopRise, 3*noise, hopClear*(ground-quantile(known, 0.05)))
	var out []Fall
	for i := 0; i < n; i++ {
		j := i
		for j < n && low[j] > limit {
			j++
		}
		if f, ok := hopFall(t[i:j], hip[i:j]); ok {
			out = append(out, f)
		}
		i = max(i, j)
	}
	return out
}

// heightNoise is the robust sd of a sample, from third differences (sum of squares 20).
func heightNoise(y []float64) float64 {
	var d []float64
	for i := 3; i < len(y); i++ {
		if v := y[i] - 3*y[i-1] + 3*y[i-2] - y[i-3]; !math.IsNaN(v) {
			d = append(d, v/math.Sqrt(20))
		}
	}
	return signal.MAD(d)
}

// hopFall fits a parabola to the hips' height. The sd is that of least squares on even
// samples: σ_a = σ·√(720/n)/T² for the second derivative.
func hopFall(t, y []float64) (Fall, bool) {
	var ts, ys []float64
	for i := range t {
		if !math.IsNaN(y[i]) {
			ts, ys = append(ts, t[i]), append(ys, y[i])
		}
	}
	n := len(ts)
	if n < hopLeast {
		return Fall{}, false
	}
	c, ok := parabola(ts, ys)
	if !ok {
		return Fall{}, false
	}
	r := make([]float64, n)
	for i := range r {
		s := ts[i] - ts[0]
		r[i] = ys[i] - c[0] - c[1]*s - c[2]*s*s
	}
	span := ts[n-1] - ts[0]
	// Robust against wrong samples, and not below what few samples can tell.
	sigma := max(signal.MAD(r), 0.7*signal.SD(r)) * math.Sqrt(float64(n)/float64(n-3))
	g := -2 * c[2]
	sd := math.Hypot(sigma*math.Sqrt(720/float64(n))/(span*span), hopModelSD*g)
	return Fall{G: g, SD: sd, RMS: 1, N: n, Hop: true}, sd > 0 && sd < hopSure*g
}
