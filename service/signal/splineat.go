package signal

import (
	"math"
	"sort"
)

// At returns the curve's value, first and second derivative at time t in
// seconds. Outside the record it continues as the polynomial of degree m − 1
// that natural end conditions make it.
func (s *Spline) At(t float64) (value, first, second float64) {
	if math.IsNaN(t) {
		return math.NaN(), math.NaN(), math.NaN()
	}
	s.settleDerivatives()
	x := (t - s.origin) / s.step
	i := min(max(sort.SearchFloat64s(s.u, x)-1, 0), len(s.u)-1)
	g := [3]float64{s.value[i], s.deriv[i][1], s.deriv[i][2]}
	d := x - s.u[i]
	for r := range 3 {
		g[r] = s.taylor(i, d, r) + s.carry(i, x, r)
	}
	return g[0], g[1] / s.step, g[2] / (s.step * s.step)
}

// taylor continues the polynomial part of derivative r from knot i over d steps.
func (s *Spline) taylor(i int, d float64, r int) float64 {
	g := [3]float64{s.value[i], s.deriv[i][1], s.deriv[i][2]}
	sum := 0.0
	for k := r; k < s.m; k++ {
		sum += g[k] * math.Pow(d, float64(k-r)) / factorial(k-r)
	}
	return sum
}

// carry is what the m-th derivative adds to derivative r between knot i and x:
// ∫ (x − v)^(m−1−r)/(m−1−r)! · g^(m)(v) dv, piecewise a polynomial of degree ≤ 4.
func (s *Spline) carry(i int, x float64, r int) float64 {
	if r >= s.m {
		return s.topAt(x)
	}
	sum := 0.0
	from, to, sign := s.u[i], x, 1.0
	if x < from {
		from, to, sign = x, from, -1
	}
	for j := max(i-s.m, 0); j < min(i+s.m+1, len(s.u)-1); j++ {
		a, b := max(from, s.u[j]), min(to, s.u[j+1])
		for _, g := range gauss3 {
			if a >= b {
				break
			}
			v := a + g.at*(b-a)
			sum += sign * g.weight * (b - a) * math.Pow(x-v, float64(s.m-1-r)) / factorial(s.m-1-r) * s.top(j, v)
		}
	}
	return sum
}

// topAt is the m-th derivative at any x; zero outside the record.
func (s *Spline) topAt(x float64) float64 {
	if x <= s.u[0] || x >= s.u[len(s.u)-1] {
		return 0
	}
	i := sort.SearchFloat64s(s.u, x) - 1
	return s.top(i, x)
}

// settleDerivatives finds the derivatives of order 1 … 2 at every knot. The
// values at the m − 1 nearest other knots follow from them by Taylor's formula
// with the known m-th derivative as remainder: linear equations.
func (s *Spline) settleDerivatives() {
	if s.deriv != nil {
		return
	}
	s.deriv = make([][]float64, len(s.u))
	for i := range s.u {
		s.deriv[i] = make([]float64, 3)
	}
	for i := range s.u {
		j, k := neighbours(i, len(s.u))
		if s.m == 2 {
			d := s.u[j] - s.u[i]
			s.deriv[i][1] = (s.value[j] - s.value[i] - s.carry(i, s.u[j], 0)) / d
			s.deriv[i][2] = s.topAt(s.u[i])
			continue
		}
		s.deriv[i][1], s.deriv[i][2] = s.twoSlopes(i, j, k)
	}
}

// neighbours returns the two knots nearest to i in order: either side, or inward at the ends.
func neighbours(i, n int) (j, k int) {
	switch i {
	case 0:
		return 1, 2
	case n - 1:
		return n - 2, n - 3
	}
	return i - 1, i + 1
}

// twoSlopes solves g_j − g_i − remainder = g′·d + g″·d²/2 at two knots.
func (s *Spline) twoSlopes(i, j, k int) (first, second float64) {
	dj, dk := s.u[j]-s.u[i], s.u[k]-s.u[i]
	rj := (s.value[j] - s.value[i] - s.carry(i, s.u[j], 0)) / dj
	rk := (s.value[k] - s.value[i] - s.carry(i, s.u[k], 0)) / dk
	second = 2 * (rj - rk) / (dj - dk)
	return rj - second*dj/2, second
}
