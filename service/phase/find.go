package phase

import "math"

// crossing returns the instant in [t0, t1] at which the straight line from
// (t0, v0) to (t1, v1) meets level. A flat line gives t1.
func crossing(t0, v0, t1, v1, level float64) float64 {
	if v1 == v0 {
		return t1
	}
	w := (level - v0) / (v1 - v0)
	return t0 + math.Min(math.Max(w, 0), 1)*(t1-t0)
}

// knot is one point of a curve.
type knot struct{ t, v float64 }

// vertex returns the extreme of the parabola through three knots of rising t,
// of which the middle one is the most extreme. Degenerate knots give the middle.
//
// With divided differences d01, d12 and c = (d12 − d01)/(t2 − t0) the vertex is
// at (t0 + t1)/2 − d01/(2c), and the value there v0 + (t − t0)(d01 + c(t − t1)).
func vertex(a, b, c knot) knot {
	if !(a.t < b.t && b.t < c.t) {
		return b
	}
	d01 := (b.v - a.v) / (b.t - a.t)
	d12 := (c.v - b.v) / (c.t - b.t)
	curve := (d12 - d01) / (c.t - a.t)
	if curve == 0 || math.IsNaN(curve) {
		return b
	}
	t := (a.t+b.t)/2 - d01/(2*curve)
	if t < a.t || t > c.t {
		return b
	}
	return knot{t, a.v + (t-a.t)*(d01+curve*(t-b.t))}
}

// Bracket returns i and w in [0, 1] so that t = T[i] + w·(T[i+1] − T[i]), t being
// clamped to the course. The two samples lie on one side of impact: at contact
// itself, the side before.
func (k *Curves) Bracket(t float64) (i int, w float64) {
	switch t { // most are asked for at one instant after the other, or at contact
	case k.asked.t:
		return k.asked.i, k.asked.w
	case k.contact:
		return k.c.Break - 1, 1
	}
	i, w = k.bracket(t)
	k.asked.t, k.asked.i, k.asked.w = t, i, w
	return i, w
}

func (k *Curves) bracket(t float64) (i int, w float64) {
	lo, hi := 0, k.c.Break
	if t > k.contact && hi+2 < len(k.t) {
		lo, hi = hi+1, len(k.t)-1
	}
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; k.t[mid] <= t {
			lo = mid
		} else {
			hi = mid
		}
	}
	w = (t - k.t[lo]) / (k.t[lo+1] - k.t[lo])
	if !(w > 0) {
		return lo, 0
	}
	return lo, math.Min(w, 1)
}

// Window returns the samples lo … hi that enclose [from, to] on one side of impact:
// the ends lie at or outside the stretch. ok is false for an empty stretch, one
// with an absent end, or one that reaches over impact.
func (k *Curves) Window(from, to float64) (lo, hi int, ok bool) {
	if !(from <= to) || (from <= k.contact && to > k.contact) {
		return 0, 0, false
	}
	lo, _ = k.Bracket(from)
	hi, w := k.Bracket(to)
	if w > 0 {
		hi++
	}
	return lo, max(hi, lo), true
}

// Value returns the curve v, which stands beside T, at t: linear between samples.
func (k *Curves) Value(v []float64, t float64) float64 {
	i, w := k.Bracket(t)
	if w == 0 {
		return v[i]
	}
	return v[i] + w*(v[i+1]-v[i])
}

// Largest returns where in [from, to] the curve v is largest, and how large: a
// parabola through the largest sample and its neighbours, or an end. NaN where
// the stretch is empty or its ends are absent; undefined (NaN) samples are passed over.
func (k *Curves) Largest(v []float64, from, to float64) (at, value float64) {
	return k.extreme(v, from, to, 1)
}

// Smallest is Largest for the smallest value.
func (k *Curves) Smallest(v []float64, from, to float64) (at, value float64) {
	at, value = k.extreme(v, from, to, -1)
	return at, -value
}

// extreme finds the largest value of sign·v in [from, to].
func (k *Curves) extreme(v []float64, from, to, sign float64) (at, value float64) {
	lo, hi, ok := k.Window(from, to)
	if !ok {
		return math.NaN(), math.NaN()
	}
	knotAt := func(i int) knot {
		switch {
		case i == lo:
			return knot{from, sign * k.Value(v, from)}
		case i == hi:
			return knot{to, sign * k.Value(v, to)}
		}
		return knot{k.t[i], sign * v[i]}
	}
	best, top := lo, knotAt(lo)
	for i := lo + 1; i < hi; i++ {
		if x := sign * v[i]; x > top.v || math.IsNaN(top.v) {
			best, top = i, knot{k.t[i], x}
		}
	}
	if last := knotAt(hi); last.v > top.v || math.IsNaN(top.v) {
		best, top = hi, last
	}
	if best > lo && best < hi {
		top = vertex(knotAt(best-1), top, knotAt(best+1))
	}
	return top.t, top.v
}
