package camera

import (
	"math"

	"example.com/courtkin/service/signal"
)

// track2 is a sequence of samples of two or three coordinates at rising times.
type track2 struct {
	t    []float64
	cols [][]float64 // each as long as t
}

func (k track2) slice(i, j int) track2 {
	out := track2{t: k.t[i:j]}
	for _, c := range k.cols {
		out.cols = append(out.cols, c[i:j])
	}
	return out
}

const (
	// smoothDegree: a parabola seen in perspective is nearly a quartic in time.
	smoothDegree = 4
	// smoothMost is the length up to which a run is searched for breaks whole; the search
	// takes time like its square.
	smoothMost = 240
	// smoothExcess is how large the mean squared misfit, over noise, may be in a smooth
	// stretch. The noise is itself estimated.
	smoothExcess = 2.0
	// longestGap: runs part where this many intervals are missing.
	longestGap = 4.5
)

// piece is a smooth stretch, from sample i up to but without j.
type piece struct{ i, j int }

// smoothPieces cuts a track where it breaks: at gaps, and where one quartic no longer
// fits but two do. It returns the pieces of at least least samples and the noise of a
// sample. Samples far off their neighbours are taken out first.
func smoothPieces(k track2, least int) (clean track2, pieces []piece, noise float64) {
	noise = trackNoise(k)
	clean = withoutStrays(k, noise)
	noise = trackNoise(clean)
	if math.IsNaN(noise) {
		return clean, nil, noise
	}
	dt := medianStep(clean.t)
	for i := 0; i < len(clean.t); {
		j := i + 1
		for j < len(clean.t) && j-i < smoothMost && clean.t[j]-clean.t[j-1] < longestGap*dt {
			j++
		}
		pieces = append(pieces, cut(clean, i, j, least, noise)...)
		i = j
	}
	return clean, pieces, noise
}

func medianStep(t []float64) float64 {
	var d []float64
	for i := 1; i < len(t); i++ {
		d = append(d, t[i]-t[i-1])
	}
	return signal.Median(d)
}

// cut splits samples i … j−1 where two quartics do better, until each fits.
func cut(k track2, i, j, least int, noise float64) []piece {
	if j-i < least {
		return nil
	}
	limit := smoothExcess * noise * noise
	if c, ok := misfit4(k.slice(i, j)); !ok || c < limit {
		return []piece{{i, j}}
	}
	const edge = smoothDegree + 2
	best, at := math.Inf(1), -1
	for m := i + edge; m <= j-edge; m++ {
		l, ok := misfit4(k.slice(i, m))
		r, too := misfit4(k.slice(m, j))
		if !ok || !too {
			continue
		}
		if s := l*float64(m-i) + r*float64(j-m); s < best {
			best, at = s, m
		}
	}
	if at < 0 {
		return nil
	}
	return append(cut(k, i, at, least, noise), cut(k, at, j, least, noise)...)
}

const smoothTerms = smoothDegree + 1

// misfit4 is the residual variance about quartics in time, per degree of freedom; false
// below seven samples or when the times do not carry a quartic.
func misfit4(k track2) (float64, bool) {
	n := len(k.t)
	if n <= smoothTerms+1 {
		return 0, false
	}
	// Sums of powers of s in [−1, 1] make the normal matrix.
	var power [2*smoothDegree + 1]float64
	mid, half := (k.t[n-1]+k.t[0])/2, (k.t[n-1]-k.t[0])/2
	for _, t := range k.t {
		s, q := (t-mid)/half, 1.0
		for d := range power {
			power[d] += q
			q *= s
		}
	}
	l, ok := powerFactor(&power)
	if !ok {
		return 0, false
	}
	sum := 0.0
	for _, y := range k.cols {
		sum += l.residual(k.t, y, mid, half)
	}
	return sum / float64(len(k.cols)*(n-smoothTerms)), true
}

// quarticFactor is the Cholesky factor of the normal matrix of a quartic.
type quarticFactor [smoothTerms][smoothTerms]float64

func powerFactor(power *[2*smoothDegree + 1]float64) (l quarticFactor, ok bool) {
	for i := range l {
		for j := 0; j <= i; j++ {
			v := power[i+j]
			for m := range j {
				v -= l[i][m] * l[j][m]
			}
			if i != j {
				l[i][j] = v / l[j][j]
				continue
			}
			if !(v > 1e-9*power[0]) {
				return l, false
			}
			l[i][i] = math.Sqrt(v)
		}
	}
	return l, true
}

// residual is the sum of squares of y about its quartic: |y|² less that of the
// projection, about y's mean so that little cancels.
func (l *quarticFactor) residual(t, y []float64, mid, half float64) float64 {
	mean := signal.Mean(y)
	var b [smoothTerms]float64
	sum := 0.0
	for i, v := range y {
		s, q := (t[i]-mid)/half, v-mean
		sum += q * q
		for d := range b {
			b[d] += q
			q *= s
		}
	}
	for i := range b {
		for m := range i {
			b[i] -= l[i][m] * b[m]
		}
		b[i] /= l[i][i]
		sum -= b[i] * b[i]
	}
	return max(0, sum)
}

// trackNoise is the robust sd of a sample, from how far each lies off the line of its
// two neighbours on each side: (−1, 4, −6, 4, −1) over √70 (uneven times add little).
func trackNoise(k track2) float64 {
	var d []float64
	for _, x := range k.cols {
		for i := 2; i+2 < len(x); i++ {
			d = append(d, (x[i-2]-4*x[i-1]+6*x[i]-4*x[i+1]+x[i+2])/math.Sqrt(70))
		}
	}
	return max(1e-4, signal.MAD(d))
}

// strayAt is how many sds off the median of its neighbours' lines a sample is taken out.
const strayAt = 8

// withoutStrays drops single samples that lie off both the line before and the line
// after them, where these two lines agree.
func withoutStrays(k track2, noise float64) track2 {
	out := track2{cols: make([][]float64, len(k.cols))}
	for i := range k.t {
		if i >= 2 && i+2 < len(k.t) && stray(k, i, noise) {
			continue
		}
		out.t = append(out.t, k.t[i])
		for c := range k.cols {
			out.cols[c] = append(out.cols[c], k.cols[c][i])
		}
	}
	return out
}

func stray(k track2, i int, noise float64) bool {
	off, bend := 0.0, 0.0
	for _, x := range k.cols {
		// The mean of the neighbours, and how much the neighbours themselves bend.
		mid := (x[i-1] + x[i+1]) / 2
		off = max(off, math.Abs(x[i]-mid))
		bend = max(bend, math.Abs(x[i+1]-x[i-1]-(x[i+2]-x[i-2])/2))
	}
	return off > strayAt*noise && off > 4*bend
}
