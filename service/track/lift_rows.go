package track

import "math"

// liftRow is one linearised residual r with unit sd: entries of the distances
// and of the shared parameters.
type liftRow struct {
	n, m int
	idx  [8]int
	c    [8]float64
	par  [3]int
	pc   [3]float64
}

func (r *liftRow) put(i int, c float64) {
	r.idx[r.n], r.c[r.n] = i, c
	r.n++
}

func (r *liftRow) param(p int, c float64) {
	r.par[r.m], r.pc[r.m] = p, c
	r.m++
}

// add adds the row with residual res and weight w to the normal equations.
func (l *lift) add(r *liftRow, res, w float64) {
	hb, a := l.a.hb, l.a.a // element (i, j) stands at (i+1)·hb + j
	for p := range r.n {
		i := r.idx[p]
		wc := w * r.c[p]
		l.g[i] -= wc * res
		for q := 0; q <= p; q++ {
			hi, lo := i, r.idx[q]
			if lo > hi {
				hi, lo = lo, hi
			}
			a[(hi+1)*hb+lo] += wc * r.c[q]
		}
		for q := range r.m {
			l.edge[r.par[q]][i] += wc * r.pc[q]
		}
	}
	for p := range r.m {
		wc := w * r.pc[p]
		l.gin[r.par[p]] -= wc * res
		for q := range r.m {
			l.inner[r.par[p]][r.par[q]] += wc * r.pc[q]
		}
	}
}

// addRobust is add with a Student t weight besides, which bounds the pull of what does
// not fit.
func (l *lift) addRobust(r *liftRow, res, w float64) {
	l.add(r, res, w*robustWeight(res*res, 1))
}

// bendOf are the weights of the acceleration at node i over it and its neighbours, and the
// time that it stands for.
func (l *lift) bendOf(i int) (w [3]float64, span float64) {
	h1, h2 := l.t[i]-l.t[i-1], l.t[i+1]-l.t[i]
	w[0], w[2] = 2/(h1*(h1+h2)), 2/(h2*(h1+h2))
	w[1] = -(w[0] + w[2])
	return w, (h1 + h2) / 2
}

// stiffen holds each distance's acceleration small.
func (l *lift) stiffen() {
	l.still.reset(len(l.lam), 2*liftJoints)
	l.still.diagonal(1e-6)
	for i := 1; i+1 < len(l.t); i++ {
		w, span := l.bendOf(i)
		for j := range liftJoints {
			if !l.seen[j] {
				continue
			}
			weight := span / l.lively[j][i]
			for p := range w {
				for q := range p + 1 {
					l.still.add((i-1+p)*liftJoints+j, (i-1+q)*liftJoints+j, weight*w[p]*w[q])
				}
			}
		}
	}
}

// pullStill adds the pull of the present accelerations.
func (l *lift) pullStill() {
	for i := 1; i+1 < len(l.t); i++ {
		w, span := l.bendOf(i)
		k := (i - 1) * liftJoints
		for j := range liftJoints {
			if !l.seen[j] {
				continue
			}
			a, b, c := k+j, k+j+liftJoints, k+j+2*liftJoints
			f := span / l.lively[j][i] * (w[0]*l.lam[a] + w[1]*l.lam[b] + w[2]*l.lam[c])
			l.g[a] -= w[0] * f
			l.g[b] -= w[1] * f
			l.g[c] -= w[2] * f
		}
	}
}

// startSD is the relative sd of the distance that a player's stature gives alone: how tall a
// player shows at his tallest in play.
const startSD = 0.05

// addShared holds the shared parameters to what is believed of them.
func (l *lift) addShared() {
	prior := func(p int, value, sd float64) {
		var r liftRow
		r.param(p, 1/sd)
		l.add(&r, (l.theta[p]-value)/sd, 1)
	}
	prior(paramStature, math.Log(l.stature), l.statureSD)
	for p := paramUpperArm; p <= paramNeck; p++ {
		var r liftRow
		r.param(p, 1/shares[p].sd)
		l.addRobust(&r, l.theta[p]/shares[p].sd, 1)
	}
	height, slope := 0.05, 0.09
	if l.worlds == nil { // the ground was put under the distance set out from
		height = math.Max(height, startSD*math.Abs(l.floor))
	}
	if l.court {
		height, slope = 0.01, 0.004
	}
	prior(paramGround, 0, height)
	prior(paramSlope, 0, slope)
}
