package swing

import (
	"math"

	"example.com/courtkin/service/geom"
)

const (
	// fitHalf is half the stretch over which a motion is fitted, real seconds:
	// over ±50 ms the noise of a 60 Hz hand (25 mm) becomes 0.3 m/s, while a
	// hand's speed peak (about 0.2 s wide in recorded strokes) loses 3–5 %.
	fitHalf = 0.050

	// wideHalf is the same for hands that have to tell a stroke alone: over ±100 ms the noise of
	// a 60 Hz hand (45 mm along the line of sight) is 0.2 m/s, a third of fitHalf's, while a
	// stroke's peak loses a tenth or so.
	wideHalf = 0.100

	// tipHalf is the same for the racket tip, which is quick and well seen.
	tipHalf = 0.035

	// trunkHalf is the same for the body's centre, which is slow.
	trunkHalf = 0.100

	// turnHalf is the same for the turn of the shoulders, a third of a metre
	// wide and thus noisier: ±100 ms leaves 0.7 rad/s of noise in one phone's view.
	turnHalf = 0.100

	// fitReach is how far the fit reaches at low rates to have two frames each side.
	fitReach = 0.150

	// maxFit bounds the samples of one fit, and so the cost of a frame.
	maxFit = 2*maxSide + 1

	// outlierRatio and outlierLeast say when a sample is no part of a motion: it
	// lies this many standard deviations of the others off the fit to the
	// others, and this many metres. A racket's break at impact stays under both.
	outlierRatio, outlierLeast = 4, 0.08

	// fewSamples is under how many a straight line is fitted: a parabola through
	// seven samples hangs on its ends (leverage 0.76; a line's 0.46), so that an
	// outlier there draws it along and does not stand out.
	fewSamples = 9

	// maskSamples is of how many samples two that hide one another are left out at least: a
	// line through the other seven has little leverage.
	maskSamples = 9

	// maxOutliers is how many a fit leaves out at most.
	maxOutliers = 2
)

// fit is a robust local fit of one vector's motion: p + v·t + c·t², by least
// squares (c = 0 for few samples), over samples that are added one by one. Samples that stand out are
// left out, at most maxOutliers.
type fit struct {
	n int
	t [maxFit]float64
	x [maxFit]geom.Vec3

	found curve // by at, of the samples as they are then …
	ok    bool  // … where there is one
}

func (f *fit) reset() { f.n = 0 }

// add gives a sample at t seconds from the instant of interest; samples beyond
// maxFit are passed over.
func (f *fit) add(t float64, x geom.Vec3) {
	if f.n < maxFit {
		f.t[f.n], f.x[f.n] = t, x
		f.n++
	}
}

// motion is position and velocity at one instant, metres and metres a second.
type motion struct{ Pos, Vel geom.Vec3 }

// curve is a solved fit: motion, the quadratic term and the inverse of the
// normal matrix, upper triangle row by row.
type curve struct {
	motion
	bend geom.Vec3
	inv  [6]float64
}

// at returns the motion at t = 0; ok is false with fewer than three samples or
// all of them on one side.
func (f *fit) at() (motion, bool) {
	c, ok := f.solve()
	for left := maxOutliers; left > 0 && ok && f.n >= 5; left-- {
		o := f.worst(&c)
		if !o.out {
			if left == maxOutliers && o.far && f.n >= maskSamples {
				f.unmask(o.at, &c)
			}
			break
		}
		f.drop(o.at)
		c, ok = f.solve()
	}
	f.found, f.ok = c, ok
	return c.motion, ok
}

// unmask drops two samples that hide one another: each raises the scatter that the other is
// held against. So the worst one is set aside, and if another stands out then, both are
// outliers (Rosner 1983, generalized extreme Studentized deviate, from memory).
func (f *fit) unmask(at int, c *curve) {
	whole := *f
	f.drop(at)
	if less, ok := f.solve(); ok {
		if o := f.worst(&less); o.out {
			f.drop(o.at)
			if less, ok = f.solve(); ok {
				*c = less
				return
			}
		}
	}
	*f = whole
}

// scatter returns the root mean square distance of the samples from the fit
// that at has just found, metres.
func (f *fit) scatter() float64 {
	if !f.ok {
		return 0
	}
	c := &f.found
	sum := 0.0
	for i := range f.n {
		t := f.t[i]
		r := f.x[i].Sub(c.Pos).Sub(c.Vel.Scale(t)).Sub(c.bend.Scale(t * t))
		sum += r.Dot(r)
	}
	return math.Sqrt(sum / float64(max(f.n-dof(f.n)+1, 1)))
}

// solve is one least-squares fit: quadratic with fewSamples or more, else linear.
func (f *fit) solve() (curve, bool) {
	if f.n < 3 || f.t[0] >= 0 || f.t[f.n-1] <= 0 {
		return curve{}, false
	}
	var s [5]float64
	var b [3]geom.Vec3
	for i := range f.n {
		t, x := f.t[i], f.x[i]
		t2 := t * t
		s[0]++
		s[1] += t
		s[2] += t2
		s[3] += t2 * t
		s[4] += t2 * t2
		b[0] = b[0].Add(x)
		b[1] = b[1].Add(x.Scale(t))
		b[2] = b[2].Add(x.Scale(t2))
	}
	if f.n < fewSamples {
		return line(&s, &b)
	}
	return parabola(&s, &b)
}

// line solves the normal equations of p + v·t from power sums of t and moments of x.
func line(s *[5]float64, b *[3]geom.Vec3) (curve, bool) {
	d := s[0]*s[2] - s[1]*s[1]
	if !(d > 1e-12) {
		return curve{}, false
	}
	return curve{motion: motion{
		Pos: b[0].Scale(s[2] / d).Sub(b[1].Scale(s[1] / d)),
		Vel: b[1].Scale(s[0] / d).Sub(b[0].Scale(s[1] / d)),
	}, inv: [6]float64{s[2] / d, -s[1] / d, 0, s[0] / d}}, true
}

// parabola solves the normal equations of p + v·t + c·t² by cofactors.
func parabola(s *[5]float64, b *[3]geom.Vec3) (curve, bool) {
	m := [6]float64{
		s[2]*s[4] - s[3]*s[3], s[2]*s[3] - s[1]*s[4], s[1]*s[3] - s[2]*s[2],
		s[0]*s[4] - s[2]*s[2], s[1]*s[2] - s[0]*s[3],
		s[0]*s[2] - s[1]*s[1],
	}
	d := s[0]*m[0] + s[1]*m[1] + s[2]*m[2]
	if !(d > 1e-18) {
		return curve{}, false
	}
	for i := range m {
		m[i] /= d
	}
	row := func(a, e, g float64) geom.Vec3 { return b[0].Scale(a).Add(b[1].Scale(e)).Add(b[2].Scale(g)) }
	return curve{motion{row(m[0], m[1], m[2]), row(m[1], m[3], m[4])}, row(m[2], m[4], m[5]), m}, true
}

// leverage returns how much a sample at t draws the fit to itself: 0 not at all,
// 1 wholly (the diagonal of the hat matrix).
func (c *curve) leverage(t float64) float64 {
	m, u := &c.inv, t*t
	return m[0] + t*t*m[3] + u*u*m[5] + 2*(t*m[1]+u*m[2]+t*u*m[4])
}

// odd is the sample that stands furthest off the fit to the others.
type odd struct {
	at  int
	far bool // by more than outlierLeast
	out bool // it is an outlier
}

// worst finds the sample that stands furthest off the fit to the others (the deleted
// residual r/(1 − h), Cook & Weisberg 1982, from memory).
func (f *fit) worst(c *curve) odd {
	worst, most, own, sum := 0, 0.0, 0.0, 0.0 // in squares
	for i := range f.n {
		t := f.t[i]
		r := f.x[i].Sub(c.Pos).Sub(c.Vel.Scale(t)).Sub(c.bend.Scale(t * t))
		r2 := r.Dot(r)
		free := max(1-c.leverage(t), 0.02)
		sum += r2
		if r2 > most*free {
			most = r2 / free
			worst, own = i, most/free
		}
	}
	rest := max(sum-most, 0) / float64(f.n-dof(f.n))
	far := own >= outlierLeast*outlierLeast
	return odd{worst, far, far && most >= outlierRatio*outlierRatio*rest}
}

// drop leaves a sample out.
func (f *fit) drop(at int) {
	copy(f.t[at:f.n], f.t[at+1:f.n])
	copy(f.x[at:f.n], f.x[at+1:f.n])
	f.n--
}

// dof returns how many samples a fit of n, one of them set aside, uses up.
func dof(n int) int {
	if n < fewSamples {
		return 3
	}
	return 4
}

// straight returns the line through the samples, wherever they lie, at t = 0,
// and their number; none when there are fewer than three or one lies further
// than stray off the line.
func (f *fit) straight(stray float64) (motion, int) {
	n := float64(f.n)
	var st, stt float64
	var sx, stx geom.Vec3
	for i := range f.n {
		st, stt = st+f.t[i], stt+f.t[i]*f.t[i]
		sx, stx = sx.Add(f.x[i]), stx.Add(f.x[i].Scale(f.t[i]))
	}
	d := n*stt - st*st
	if f.n < 3 || !(d > 1e-12) {
		return motion{}, 0
	}
	v := stx.Scale(n / d).Sub(sx.Scale(st / d))
	p := sx.Scale(1 / n).Sub(v.Scale(st / n))
	for i := range f.n {
		if f.x[i].Sub(p).Sub(v.Scale(f.t[i])).Norm() > stray {
			return motion{}, 0
		}
	}
	return motion{p, v}, f.n
}
