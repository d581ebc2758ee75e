package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/geom"
)

// kinked holds sights of a point whose velocity steps at 0.1 s.
func kinked(n int) (s []sight) {
	rng := rand.New(rand.NewPCG(4, 9))
	for i := range n {
		t := 0.011*float64(i) + 0.002*rng.Float64()
		p := geom.Vec3{X: 20 * t, Y: 1 + 3*t - 40*t*t, Z: 0.3}
		if t > 0.1 {
			p.X -= 8 * (t - 0.1)
		}
		p = p.Add(geom.Vec3{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()}.Scale(0.01))
		s = append(s, sight{kind: place, t: t, p: p, sd: 0.01, w: 0.5 + rng.Float64()})
	}
	return s
}

// denseBreak is the log likelihood of sights of a motion broken at t, up to a
// constant, and its places at the sights, the plain way: states at every sight and on both
// sides of the break, and every belief a row over its sd.
func denseBreak(tb testing.TB, s []sight, r rough, t float64) (float64, []geom.Vec3) {
	tb.Helper()
	times, brk, at := []float64{}, -1, make([]int, len(s))
	for i := range s {
		if brk < 0 && s[i].t > t {
			brk = len(times)
			times = append(times, t, t)
		}
		at[i] = len(times)
		times = append(times, s[i].t)
	}
	d := dense{unknowns: 3 * len(times)}
	logs := 0.0
	row := func(weight float64, y [3]float64, c map[int]float64) {
		d.row(weight, 0, c)
		d.y = append(d.y[:len(d.y)-1], math.Sqrt(weight)*y[0], math.Sqrt(weight)*y[1], math.Sqrt(weight)*y[2])
		logs += math.Log(weight)
	}
	for k, sd := range []float64{openPlace, openSpeed, openAccel} {
		row(1/(sd*sd), [3]float64{}, map[int]float64{k: 1})
	}
	for i := 1; i < len(times); i++ {
		a, b := 3*(i-1), 3*i
		if i == brk+1 {
			j := r.jolt(contactStep)
			row(1e16, [3]float64{}, map[int]float64{b: 1, a: -1})
			row(1/j.speed, [3]float64{}, map[int]float64{b + 1: 1, a + 1: -j.keep})
			row(1/j.accel, [3]float64{}, map[int]float64{b + 2: 1, a + 2: -1})
			continue
		}
		h := times[i] - times[i-1]
		q := mat.NewSymDense(3, []float64{h * h * h * h * h / 20, h * h * h * h / 8, h * h * h / 6, 0, h * h * h / 3, h * h / 2, 0, 0, h})
		q.ScaleSym(r.level, q)
		var ch mat.Cholesky
		if !ch.Factorize(q) {
			tb.Fatal("no factor of the jerk's covariance")
		}
		var l, inv mat.TriDense
		ch.LTo(&l)
		if err := inv.InverseTri(&l); err != nil {
			tb.Fatal(err)
		}
		for k := range 3 {
			c := map[int]float64{}
			for j := range k + 1 {
				w := inv.At(k, j)
				c[b+j] += w
				c[a+j] -= w
				if j == 0 {
					c[a+1] -= w * h
					c[a+2] -= w * h * h / 2
				}
				if j == 1 {
					c[a+2] -= w * h
				}
			}
			row(1, [3]float64{}, c)
			logs += 2 * math.Log(inv.At(k, k))
		}
	}
	for i := range s {
		row(s[i].w/(s[i].sd*s[i].sd), [3]float64{s[i].p.X, s[i].p.Y, s[i].p.Z}, map[int]float64{3 * at[i]: 1})
	}
	a, y := mat.NewDense(len(d.y)/3, d.unknowns, d.rows), mat.NewDense(len(d.y)/3, 3, d.y)
	var qr mat.QR
	qr.Factorize(a)
	var x, rest, upper mat.Dense
	if err := qr.SolveTo(&x, false, y); err != nil {
		tb.Log(err) // ill-conditioned by the open start; the answer is good enough
	}
	rest.Mul(a, &x)
	rest.Sub(&rest, y)
	qr.RTo(&upper)
	for i := range d.unknowns {
		logs -= 2 * math.Log(math.Abs(upper.At(i, i)))
	}
	misfit := mat.Norm(&rest, 2)
	var places []geom.Vec3
	for _, k := range at {
		places = append(places, geom.Vec3{X: x.At(3*k, 0), Y: x.At(3*k, 1), Z: x.At(3*k, 2)})
	}
	return 1.5*logs - 0.5*misfit*misfit, places
}

func TestABreaksEvidenceIsWhatPlainLeastSquaresFinds(t *testing.T) {
	r := rough{level: 5e4, width: 1, floor: 1, jump: 6, keep: 0.8, kept: 1.5}
	s := kinked(20)
	b := newBreaker(s, r, 0.1, &breakRoom{})
	s = b.near
	b.follow()
	ts := []float64{0.05, 0.08, 0.09, 0.1, 0.11, 0.15}
	got := b.scan(ts, nil)
	first, _ := denseBreak(t, s, r, ts[0])
	for i, at := range ts {
		want, places := denseBreak(t, s, r, at)
		if d := (got[i] - got[0]) - (want - first); !(math.Abs(d) < 1e-3) {
			t.Errorf("break at %.2f s: evidence %.4f over that at %.2f s, want %.4f", at, got[i]-got[0], ts[0], want-first)
		}
		weights := make([]float64, len(s))
		for k := range s {
			weights[k] = s[k].w
		}
		b.reweigh(at)
		for k := range s {
			if want := robustWeight(s[k].chi2(places[k]), 3); !(math.Abs(s[k].w-want) < 1e-4) {
				t.Errorf("break at %.2f s: sight %d weighs %.5f, want %.5f", at, k, s[k].w, want)
			}
			s[k].w = weights[k]
		}
	}
	if got[3] < got[1] || got[3] < got[5] {
		t.Errorf("evidence %.2f at %.2f s: want the highest at 0.1 s", got, ts)
	}
}
