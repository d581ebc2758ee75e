package signal

import (
	"errors"
	"math"
)

// Spline is a natural smoothing spline of degree 2m − 1: of all curves g the one
// that minimises
//
//	Σ w_i·(y_i − g(t_i))² + λ·∫ (d^m g/dt^m)² dt
//
// with m = 2 (cubic) or m = 3 (quintic). Its m-th derivative is a sum of B-splines
// of degree m − 1, which yields the lower derivatives without differencing
// (Reinsch 1967, Numer Math 10:177; Woltring 1986, Adv Eng Softw 8:104).
type Spline struct {
	// Fixed by the samples. Inside, time runs in mean sample steps from the
	// first sample, which keeps the matrices well scaled.
	m      int
	origin float64 // seconds
	step   float64 // seconds
	u      []float64
	y      []float64
	spread []float64   // 1/w_i
	diff   [][]float64 // Qᵀ
	gram   band        // R
	rough  band        // Qᵀ·W⁻¹·Q

	// Set by each fit.
	lambda float64 // in steps: λ / step^(2m−1)
	coef   []float64
	value  []float64   // g(t_i)
	deriv  [][]float64 // deriv[i][r], r = 1 … m−1, per step^r
	free   float64     // trace of I − influence
}

// ErrSamples says that the samples cannot carry the fit: too few, of unequal
// length, not finite, times that do not rise, or weights that are not positive.
var ErrSamples = errors.New("signal: samples unfit for this fit")

// FitSpline fits the spline of half-order m in {2, 3} to y at rising times t
// (seconds) with a given λ ≥ 0 (seconds^(2m−1) when w = 1). w holds weights > 0,
// in proportion to 1/variance; nil means 1. At least 2m + 1 samples.
func FitSpline(t, y, w []float64, m int, lambda float64) (*Spline, error) {
	s, err := newSpline(t, y, w, m)
	if err != nil || !(lambda >= 0) || math.IsInf(lambda, 1) {
		return nil, ErrSamples
	}
	s.fit(lambda / math.Pow(s.step, float64(2*m-1)))
	return s, nil
}

// FitSplineGCV fits the spline with the λ that generalised cross-validation
// prefers: the one that minimises n·Σ w·(y − g)² / tr(I − A)², A the influence
// matrix (Craven & Wahba 1979, Numer Math 31:377). The search spans cutoffs from
// one cycle in the record to the Nyquist frequency.
func FitSplineGCV(t, y, w []float64, m int) (*Spline, error) {
	s, err := newSpline(t, y, w, m)
	if err != nil {
		return nil, err
	}
	// A smoothing spline passes half the amplitude at λ·ω^2m = 1.
	at := func(logOmega float64) float64 { return math.Exp(-2 * float64(m) * logOmega) }
	score := func(logOmega float64) float64 { s.fit(at(logOmega)); return s.gcv() }
	s.fit(at(minimise(score, math.Log(2*math.Pi/float64(len(y))), math.Log(math.Pi), 30)))
	return s, nil
}

func newSpline(t, y, w []float64, m int) (*Spline, error) {
	n := len(t)
	if (m != 2 && m != 3) || n < 2*m+1 || len(y) != n || (w != nil && len(w) != n) {
		return nil, ErrSamples
	}
	s := &Spline{m: m, origin: t[0], step: (t[n-1] - t[0]) / float64(n-1), y: y}
	for i := range t {
		weight := 1.0
		if w != nil {
			weight = w[i]
		}
		s.u = append(s.u, (t[i]-s.origin)/s.step)
		s.spread = append(s.spread, 1/weight)
		if !finite(s.u[i]) || !finite(y[i]) || !(weight > 0) || !finite(1/weight) || (i > 0 && !(s.u[i] > s.u[i-1])) {
			return nil, ErrSamples
		}
	}
	s.diff = differences(s.u, m)
	s.gram, s.rough = newBand(n-m, m), newBand(n-m, m)
	s.addGram(s.gram)
	s.addRoughness(s.rough)
	return s, nil
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// differences returns the rows of Qᵀ: row i holds the m + 1 weights with which
// y_i … y_{i+m} give m! times their divided difference, which is the mean of
// the m-th derivative under the B-spline on those knots.
func differences(u []float64, m int) [][]float64 {
	rows := make([][]float64, len(u)-m)
	for i := range rows {
		knots := u[i : i+m+1]
		rows[i] = make([]float64, m+1)
		for j, a := range knots {
			v := factorial(m)
			for k, b := range knots {
				if k != j {
					v /= a - b
				}
			}
			rows[i][j] = v
		}
	}
	return rows
}

func factorial(m int) float64 { return math.Gamma(float64(m + 1)) }

// fit solves (R + λ·Qᵀ·W⁻¹·Q)·c = Qᵀ·y, the coefficients of the m-th derivative,
// and from them g = y − λ·W⁻¹·Q·c.
func (s *Spline) fit(lambda float64) {
	n, m := len(s.u), s.m
	s.lambda = lambda
	normal := newBand(n-m, m)
	for i, row := range normal.at {
		for k := range row {
			row[k] = s.gram.at[i][k] + lambda*s.rough.at[i][k]
		}
	}
	normal.factor()
	s.coef = make([]float64, n-m)
	for i, row := range s.diff {
		for j, q := range row {
			s.coef[i] += q * s.y[i+j]
		}
	}
	normal.solve(s.coef)
	s.value = make([]float64, n)
	copy(s.value, s.y)
	for i, row := range s.diff {
		for j, q := range row {
			s.value[i+j] -= lambda * s.spread[i+j] * q * s.coef[i]
		}
	}
	s.free = lambda * traceOfProduct(normal.inverse(), s.rough)
	s.deriv = nil
}

// traceOfProduct is tr(a·b) of two symmetric banded matrices.
func traceOfProduct(a, b band) float64 {
	sum := 0.0
	for i, row := range a.at {
		sum += row[0] * b.at[i][0]
		for k := 1; k <= a.reach(i); k++ {
			sum += 2 * row[k] * b.at[i][k]
		}
	}
	return sum
}

// addRoughness adds Qᵀ·W⁻¹·Q.
func (s *Spline) addRoughness(b band) {
	for i := range b.at {
		for k := 0; k <= b.reach(i); k++ {
			for j := k; j <= s.m; j++ {
				b.at[i][k] += s.diff[i][j] * s.spread[i+j] * s.diff[i+k][j-k]
			}
		}
	}
}

// addGram adds R, the integrals of products of the B-splines. Their pieces have
// degree m − 1 ≤ 2, so three Gauss points an interval are exact.
func (s *Spline) addGram(b band) {
	for i := range len(s.u) - 1 {
		for _, g := range gauss3 {
			width := s.u[i+1] - s.u[i]
			at, first := s.bsplines(i, s.u[i]+g.at*width)
			for p := range s.m {
				for q := p; q < s.m; q++ {
					row := first + p
					if row >= 0 && first+q < len(b.at) {
						b.at[row][q-p] += g.weight * width * at[p] * at[q]
					}
				}
			}
		}
	}
}

// gauss3 holds the three-point Gauss–Legendre rule on [0, 1], exact to degree 5.
var gauss3 = [3]struct{ at, weight float64 }{
	{.5 - .5*math.Sqrt(.6), 5. / 18}, {.5, 8. / 18}, {.5 + .5*math.Sqrt(.6), 5. / 18},
}

// bsplines returns the values at x, inside interval i of the knots, of the m
// B-splines (unit integral, m + 1 knots each) that can differ from zero there,
// and the index of the first of them; those whose index lies outside [0, n − m)
// do not exist and are void.
func (s *Spline) bsplines(i int, x float64) (at [3]float64, first int) {
	first = i - s.m + 1
	for p := range s.m {
		j := first + p
		if j >= 0 && j+s.m < len(s.u) {
			at[p] = bspline(s.u[j:j+s.m+1], x)
		}
	}
	return at, first
}

// bspline is the B-spline of unit integral on the given knots at x, by the
// recurrence of de Boor and Cox for that normalisation:
// M_k(x) = k/(k−1) · [(x − t_0)·M_{k−1}(t_0…) + (t_k − x)·M_{k−1}(t_1…)]/(t_k − t_0).
func bspline(knots []float64, x float64) float64 {
	k := len(knots) - 1
	a, b := knots[0], knots[k]
	if x < a || x >= b {
		return 0
	}
	if k == 1 {
		return 1 / (b - a)
	}
	left, right := bspline(knots[:k], x), bspline(knots[1:], x)
	return float64(k) / float64(k-1) * ((x-a)*left + (b-x)*right) / (b - a)
}

// top is the m-th derivative (per step^m) at x, which lies in interval i.
func (s *Spline) top(i int, x float64) float64 {
	at, first := s.bsplines(i, x)
	sum := 0.0
	for p := range s.m {
		if j := first + p; j >= 0 && j < len(s.coef) {
			sum += s.coef[j] * at[p]
		}
	}
	return sum
}

// gcv is the score of generalised cross-validation of the present fit.
func (s *Spline) gcv() float64 {
	return float64(len(s.y)) * s.residual() / (s.free * s.free)
}

// residual is Σ w·(y − g)².
func (s *Spline) residual() float64 {
	sum := 0.0
	for i, g := range s.value {
		sum += (s.y[i] - g) * (s.y[i] - g) / s.spread[i]
	}
	return sum
}

// Lambda returns the smoothing parameter, in seconds^(2m−1) when weights are 1.
func (s *Spline) Lambda() float64 {
	return s.lambda * math.Pow(s.step, float64(2*s.m-1))
}

// Noise returns the estimated standard deviation of a sample of weight 1:
// √(Σ w·(y − g)² / tr(I − A)) (Wahba 1983, J R Stat Soc B 45:133).
func (s *Spline) Noise() float64 { return math.Sqrt(s.residual() / s.free) }

// Freedom returns tr A in (m, n]: how many parameters the curve is worth.
func (s *Spline) Freedom() float64 { return float64(len(s.y)) - s.free }
