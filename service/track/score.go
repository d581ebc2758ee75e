package track

import (
	"math"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// A pose estimator's score is no variance, but points with a low score are often
// noisier. How much so is learned from the data: each sight is held against the
// cubic through its four neighbours in time, which motion hardly leaves, and the
// squared deviations are averaged by score.

// scoreBins is the number of bins, of equal counts.
const scoreBins = 5

// scoreLaw is the sd of a sight's noise over its group's as a function of the
// score: linear between the bins' means. The zero value says 1 everywhere.
type scoreLaw struct {
	known bool
	score [scoreBins]float64
	rel   [scoreBins]float64
}

// at returns the relative sd for a score.
func (l *scoreLaw) at(score float32) float64 {
	if !l.known {
		return 1
	}
	x := float64(score)
	for i := 1; i < scoreBins; i++ {
		if x < l.score[i] {
			f := clamp((x-l.score[i-1])/math.Max(1e-9, l.score[i]-l.score[i-1]), 0, 1)
			return l.rel[i-1] + f*(l.rel[i]-l.rel[i-1])
		}
	}
	return l.rel[scoreBins-1]
}

// scored is one sight's mean squared deviation a scalar from its neighbours, over
// its group's variance.
type scored struct{ score, square float64 }

// measureScores learns the law of each kind.
func (m *scene) measureScores() {
	for _, k := range [...]kind{place, image, reach} {
		var all []scored
		for p := range body.NumPoints {
			white := m.noise[k][groupOf[p]].white
			for _, s := range m.split(p, k) {
				all = append(all, deviations(s.sights, white)...)
			}
		}
		m.scores[k] = lawOf(all)
	}
}

// deviations holds each sight against the cubic through two neighbours on each side.
func deviations(s []sight, white float64) (out []scored) {
	step := medianStep(s)
	for i := 2; i+2 < len(s); i++ {
		if s[i].errs != nil || s[i+2].t-s[i-2].t > 4.6*step {
			continue
		}
		near := [4]geom.Vec3{s[i-2].p, s[i-1].p, s[i+1].p, s[i+2].p}
		w := fromFour([4]float64{s[i-2].t, s[i-1].t, s[i+1].t, s[i+2].t}, s[i].t)
		d := s[i].p.Sub(combine(near[:], w))
		out = append(out, scored{float64(s[i].score), d.Dot(d) / (float64(s[i].dim()) * white * white)})
	}
	return out
}

// fromFour returns the weights of the cubic through four instants at t (Lagrange).
func fromFour(x [4]float64, t float64) (w [4]float64) {
	for i := range w {
		w[i] = 1
		for j := range x {
			if j != i {
				w[i] *= (t - x[j]) / (x[i] - x[j])
			}
		}
	}
	return w
}

const (
	// neighbours is the variance that the neighbours' own noise adds to a
	// deviation: the squared weights of an even cubic, (1 + 16 + 16 + 1)/36.
	neighbours = 34.0 / 36
	// wildest bounds one squared deviation, against gross errors and fast motion.
	wildest = 12.0
	// quietest is the least share of the group's variance that a good score may have.
	quietest = 0.15
)

// lawOf averages the deviations in bins of equal counts, takes the neighbours'
// share off and scales the law's mean square to 1. Too few sights, or a score that
// does not vary, give no law.
func lawOf(all []scored) (l scoreLaw) {
	if len(all) < 500 {
		return l
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].score < all[j].score })
	if all[len(all)-1].score-all[0].score < 0.02 {
		return l
	}
	var mean [scoreBins]float64
	total := 0.0
	for b := range scoreBins {
		part := all[b*len(all)/scoreBins : (b+1)*len(all)/scoreBins]
		for _, s := range part {
			mean[b] += math.Min(s.square, wildest) / float64(len(part))
			l.score[b] += s.score / float64(len(part))
		}
		total += mean[b] / scoreBins
	}
	sum := 0.0
	for b := range scoreBins {
		// Scaled so that a noise that is the same everywhere gives 1 in every bin.
		l.rel[b] = math.Max(quietest, mean[b]/total*(1+neighbours)-neighbours)
		sum += l.rel[b] / scoreBins
	}
	for b := range scoreBins {
		l.rel[b] = math.Sqrt(l.rel[b] / sum)
	}
	l.known = true
	return l
}
