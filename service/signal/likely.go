package signal

import "math"

// Fit returns the jerk density q (unit²/s⁵) and the factor on all SDs that
// make the samples most probable. Only their ratio needs a search, because for
// a given ratio the best scale follows: scale² = quad/(n − 3). The ratio is
// searched as the cutoff of the smoother, at which noise and motion have equal
// spectral density,
//
//	(2π·cutoff)⁶ = q / (sd²·mean time between samples)
//
// from one cycle in two records to half the mean rate. ErrSamples as Smooth, and
// below eight samples, or when they lie on a parabola without any noise.
func (s *Smoother) Fit(samples []Sample) (q, scale float64, err error) {
	if !s.measure(samples) || seenOf(samples) < minFit {
		return 0, 0, ErrSamples
	}
	density := func(logOmega float64) float64 { // of unscaled samples
		return math.Exp(6*logOmega) * s.unit * s.unit / math.Pow(s.step, 5)
	}
	misfit := func(logOmega float64) float64 {
		if !s.forward(samples, density(logOmega)) {
			return math.NaN()
		}
		return s.profile()
	}
	best := minimise(misfit, math.Log(math.Pi/float64(len(samples))), math.Log(math.Pi), 20)
	if !finite(misfit(best)) {
		return 0, 0, ErrSamples
	}
	scale = math.Sqrt(s.fit.quad / float64(s.fit.samples-minSeen))
	q = density(best) * scale * scale
	if !finite(q) || !finite(scale) {
		return 0, 0, ErrSamples
	}
	return q, scale, nil
}

// minFit is the fewest samples that a likelihood of two figures is asked of: five
// degrees of freedom beyond the state. Our choice.
const minFit = 8

func seenOf(samples []Sample) int {
	n := 0
	for _, z := range samples {
		if z.seen() {
			n++
		}
	}
	return n
}

// profile is minus the log-likelihood at the best scale, up to a constant.
func (s *Smoother) profile() float64 {
	free := float64(s.fit.samples - minSeen)
	return free/2*math.Log(s.fit.quad/free) + s.fit.sumLog
}
