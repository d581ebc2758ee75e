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

	// turnHalf is the same for the turn of the shoulders, a third of a metre
	// wide and thus noisier: ±80 ms leaves 1 rad/s of noise in one phone's view.
	turnHalf = 0.080

	// fitReach is how far the fit reaches at low rates to have two frames each side.
	fitReach = 0.150

	// maxFit bounds the samples of one fit, and so the cost of a frame.
	maxFit = 40

	// outlierRatio and outlierLeast say when a sample is no part of a motion:
	// it lies this many times further off the fit than the rest do, and this
	// many metres. A racket's break at impact stays well under both.
	outlierRatio, outlierLeast = 4, 0.08
)

// fit is a robust local fit of one vector's motion: p + v·t + ½a·t², by least
// squares, over samples that are added one by one. At most two samples that
// stand out are left out.
type fit struct {
	n int
	t [maxFit]float64
	x [maxFit]geom.Vec3
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

// at returns the motion at t = 0; ok is false with fewer than three samples or
// all of them on one side.
func (f *fit) at() (m motion, ok bool) {
	for range 3 {
		var acc geom.Vec3
		m, acc, ok = f.solve()
		if !ok || f.n < 5 || !f.dropWorst(m, acc) {
			return m, ok
		}
	}
	return m, ok
}

// solve is one least-squares fit: quadratic with five samples or more, else linear.
func (f *fit) solve() (motion, geom.Vec3, bool) {
	var s [5]float64
	var b [3]geom.Vec3
	for i := range f.n {
		t, x := f.t[i], f.x[i]
		s[0]++
		s[1] += t
		s[2] += t * t
		s[3] += t * t * t
		s[4] += t * t * t * t
		b[0] = b[0].Add(x)
		b[1] = b[1].Add(x.Scale(t))
		b[2] = b[2].Add(x.Scale(t * t))
	}
	if f.n < 3 || f.t[0] >= 0 || f.t[f.n-1] <= 0 {
		return motion{}, geom.Vec3{}, false
	}
	if f.n < 5 {
		return line(&s, &b)
	}
	return parabola(&s, &b)
}

// line solves the normal equations of p + v·t from power sums of t and moments of x.
func line(s *[5]float64, b *[3]geom.Vec3) (motion, geom.Vec3, bool) {
	d := s[0]*s[2] - s[1]*s[1]
	if !(d > 1e-12) {
		return motion{}, geom.Vec3{}, false
	}
	return motion{
		Pos: b[0].Scale(s[2] / d).Sub(b[1].Scale(s[1] / d)),
		Vel: b[1].Scale(s[0] / d).Sub(b[0].Scale(s[1] / d)),
	}, geom.Vec3{}, true
}

// parabola solves the normal equations of p + v·t + c·t² by cofactors; the
// third result is c, half the acceleration.
func parabola(s *[5]float64, b *[3]geom.Vec3) (motion, geom.Vec3, bool) {
	c00 := s[2]*s[4] - s[3]*s[3]
	c01 := s[2]*s[3] - s[1]*s[4]
	c02 := s[1]*s[3] - s[2]*s[2]
	c11 := s[0]*s[4] - s[2]*s[2]
	c12 := s[1]*s[2] - s[0]*s[3]
	c22 := s[0]*s[2] - s[1]*s[1]
	d := s[0]*c00 + s[1]*c01 + s[2]*c02
	if !(d > 1e-18) {
		return motion{}, geom.Vec3{}, false
	}
	row := func(a, e, g float64) geom.Vec3 {
		return b[0].Scale(a / d).Add(b[1].Scale(e / d)).Add(b[2].Scale(g / d))
	}
	return motion{row(c00, c01, c02), row(c01, c11, c12)}, row(c02, c12, c22), true
}

// dropWorst leaves out the sample that stands furthest off the fit when it is
// an outlier, and reports whether it did.
func (f *fit) dropWorst(m motion, acc geom.Vec3) bool {
	worst, most, sum := 0, 0.0, 0.0
	for i := range f.n {
		t := f.t[i]
		r := f.x[i].Sub(m.Pos).Sub(m.Vel.Scale(t)).Sub(acc.Scale(t * t)).Norm()
		sum += r
		if r > most {
			worst, most = i, r
		}
	}
	rest := (sum - most) / float64(f.n-1)
	if most < outlierLeast || most < outlierRatio*rest/dilution(f.n) {
		return false
	}
	copy(f.t[worst:f.n], f.t[worst+1:f.n])
	copy(f.x[worst:f.n], f.x[worst+1:f.n])
	f.n--
	return true
}

// dilution says how much a single outlier bends a quadratic fit of n samples
// and so shows up in the others' residuals: near 1 for many, more for few.
func dilution(n int) float64 { return 1 + 6/math.Max(float64(n)-3, 1) }
