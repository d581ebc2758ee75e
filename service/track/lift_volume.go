package track

import "math/rand/v2"

// The image fixes a segment's length across the view, a, and leaves its depth u open:
// u² = L² − a². Of a segment that lies nearly across, many depths fit nearly as well; of
// one that is steeply tilted, few do. What the best-fitting depths alone say of the size
// of a body is therefore too small: a smaller body nearer by has its segments tilt more, and
// fits as well. The likelihood of its size is that of all depths that fit, and holds the spread of
// each beside its misfit (Laplace's approximation; Tierney & Kadane 1986, JASA 81:82–86): the
// slope of the length by the depth is u/L, and as the body grows by a share ds, (u/L)²
// falls by 2(a/L)² ds. The likelihood's logarithm rises by (a/L)²·var u/sd² ds.

// volumeDraws is how many draws of the depths tell how far each may stray: a
// multiple of four. A spread by twelve errs by a fifth; some thousand of them come together.
const volumeDraws = 12

// volumePasses bounds the steps after it.
const volumePasses = 3

// lookAtVolume works out, about the present solution, by how much the likelihood of the size
// rises with each segment of each node (per unit of its logarithm).
func (l *lift) lookAtVolume() {
	if l.volume == nil {
		l.volume = make([]float64, len(ties)*len(l.t))
	}
	draws := l.strays()
	for i := range l.t {
		for k := range ties {
			l.volume[i*len(ties)+k] = l.volumeOf(i, k, draws)
		}
	}
}

// strays draws errors of the distances, the shared parameters held.
func (l *lift) strays() [][]float64 {
	rng := rand.New(rand.NewPCG(0x6c696674, 3))
	n := len(l.lam)
	room, draws := make([]float64, volumeDraws*n), make([][]float64, volumeDraws)
	for i := range room {
		room[i] = rng.NormFloat64()
	}
	for k := range draws {
		draws[k] = room[k*n : (k+1)*n : (k+1)*n]
	}
	for k := 0; k < volumeDraws; k += 4 {
		l.spread(draws[k : k+4])
	}
	return draws
}

// volumeOf is lookAtVolume for tie k at node i. A segment that is seen as long as it is, or
// longer, has its depth about zero by second order (slant.bend), as far with one size as with another.
func (l *lift) volumeOf(i, k int, draws [][]float64) float64 {
	t := &ties[k]
	length := l.length(t.kind)
	s, ok := l.slant(i, k, length)
	if !ok {
		return 0
	}
	sd := l.tieSD(t, &s)
	if s.h*s.h < 2*length*sd {
		return 0
	}
	v := 0.0
	for _, d := range draws {
		q := d[i*liftJoints : (i+1)*liftJoints]
		x, y := endOf(q, t.a), endOf(q, t.b)
		u := x - y + s.b*(x+y)/2
		v += u * u / float64(len(draws))
	}
	res, across := (s.present-length)/sd, s.lam*s.p/length
	return l.tieWeight(i) * robustWeight(res*res, 1) * across * across * v * s.r2 / (sd * sd)
}

// endOf is an end's distance of those at a node.
func endOf(q []float64, e [2]int) float64 {
	if e[1] < 0 {
		return q[e[0]]
	}
	return (q[e[0]] + q[e[1]]) / 2
}

// addVolume adds the pull on the distances and, the other way, on the lengths.
func (l *lift) addVolume() {
	for at, f := range l.volume {
		if f == 0 {
			continue
		}
		i, t := at/len(ties), &ties[at%len(ties)]
		q := l.lam[i*liftJoints : (i+1)*liftJoints]
		var r liftRow
		c := f / (endOf(q, t.a) + endOf(q, t.b))
		l.share(&r, i, t.a, c)
		l.share(&r, i, t.b, c)
		for p := range r.n {
			l.g[r.idx[p]] += r.c[p]
		}
		l.gin[paramStature] -= f
		l.gin[t.kind] -= f
	}
}
