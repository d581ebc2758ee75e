package track

import "example.com/courtkin/service/geom"

// motion is what is known of a point's motion at an instant: the Gaussian over
// place, velocity and acceleration of a point driven by white jerk, the same and
// apart on each of three axes. Unlike a path it needs no nodes: it goes from sight
// to sight (Kalman 1960, J Basic Eng 82:35).
type motion struct {
	p, v, a                geom.Vec3 // m, m/s, m/s² or the same of pixels
	pp, pv, pa, vv, va, aa float64   // covariance of one axis
	t                      float64   // s

	// The log likelihood of all that it was shown: misfit, and the product of the
	// precisions of what was foretold.
	misfit   float64
	foretold product
}

// Nothing is known of a motion before its first sight: these sds, in a sight's
// unit, are far beyond what is seen, in pixels too, and still far from where
// double precision ends.
const (
	openPlace = 1e4 // m
	openSpeed = 1e5 // m/s
	openAccel = 1e7 // m/s²
)

// open returns a motion of which nothing is known.
func open(t float64) motion {
	return motion{pp: openPlace * openPlace, vv: openSpeed * openSpeed, aa: openAccel * openAccel, t: t}
}

// ahead brings the motion to the later instant t, driven by jerk of density q.
func (m *motion) ahead(t, q float64) {
	d := t - m.t
	if d == 0 {
		return
	}
	m.t = t
	h := d * d / 2
	m.p = m.p.Add(m.v.Scale(d)).Add(m.a.Scale(h))
	m.v = m.v.Add(m.a.Scale(d))
	// F·P, then that times Fᵀ, with F = (1 d h; 0 1 d; 0 0 1); the covariance of
	// jerk integrated once, twice and three times over d.
	r00, r01, r02 := m.pp+d*m.pv+h*m.pa, m.pv+d*m.vv+h*m.va, m.pa+d*m.va+h*m.aa
	r11, r12 := m.vv+d*m.va, m.va+d*m.aa
	qd := q * d
	qdd := qd * d
	m.pp = r00 + d*r01 + h*r02 + qdd*d*d*d/20
	m.pv = r01 + d*r02 + qdd*d*d/8
	m.pa = r02 + qdd*d/6
	m.vv = r11 + d*r12 + qdd*d/3
	m.va = r12 + qdd/2
	m.aa += qd
}

// see takes in a sight of the place with the variance given.
func (m *motion) see(at geom.Vec3, variance float64) {
	s := 1 / (m.pp + variance)
	e := at.Sub(m.p)
	m.misfit += e.Dot(e) * s
	m.foretold.times(s)
	kp, kv, ka := m.pp*s, m.pv*s, m.pa*s
	m.p = m.p.Add(e.Scale(kp))
	m.v = m.v.Add(e.Scale(kv))
	m.a = m.a.Add(e.Scale(ka))
	m.vv -= kv * m.pv
	m.va -= kv * m.pa
	m.aa -= ka * m.pa
	left := variance * s // P − P·s·P on the first row, without the difference
	m.pp *= left
	m.pv *= left
	m.pa *= left
}

// jolt is what impact does to a motion: the velocity is multiplied by keep and
// shaken, and the acceleration shaken.
type jolt struct {
	keep  float64 // share of its velocity that is left
	speed float64 // variance that the velocity gains, (m/s)²
	accel float64 // variance that the acceleration gains, (m/s²)²
}

// jolt returns the jolt of a motion's impact: the velocity after is about that before ±
// jump and, where it is said, about the share keep of it ± kept. Over
// dwell seconds of hold the jump may come in two parts.
func (r rough) jolt(dwell float64) jolt {
	// Two kinks of sd jump, each on one of two stencils of a grid with nodes a
	// dwell apart, are a step of half their variance in the velocity, and
	// one of twice their variance over dwell² in the acceleration.
	j := jolt{1, r.jump * r.jump / 2, 2 * square(r.jump/dwell)}
	if r.keep != 0 {
		free, kept := 1/j.speed, 1/(r.kept*r.kept)
		j.keep = (free + r.keep*kept) / (free + kept)
		j.speed = 1 / (free + kept)
	}
	return j
}

// strike takes the motion through impact.
func (m *motion) strike(j jolt) {
	m.v = m.v.Scale(j.keep)
	m.pv *= j.keep
	m.va *= j.keep
	m.vv = m.vv*j.keep*j.keep + j.speed
	m.aa += j.accel
}

// unstrike takes a motion that was followed backward through impact: the
// likelihood of the motion before, from that of the motion after.
func (m *motion) unstrike(j jolt) {
	k := 1 / j.keep
	m.v = m.v.Scale(k)
	m.pv *= k
	m.va *= k
	m.vv = (m.vv + j.speed) * k * k
	m.aa += j.accel
}

// gap is how two motions at one instant differ, one followed forward, the other
// backward (its time running back): the sum of their covariances as L·D·Lᵀ, and the
// difference of the means divided by L. Without square roots, each of which would hold up
// what follows.
type gap struct {
	i0, i1, i2    float64 // 1/D
	l10, l20, l21 float64
	y0, y1, y2    geom.Vec3
}

func (m *motion) gap(o *motion) (g gap) {
	v10, v20 := m.pv-o.pv, m.pa+o.pa
	g.i0 = 1 / (m.pp + o.pp)
	g.l10, g.l20 = v10*g.i0, v20*g.i0
	g.i1 = 1 / (m.vv + o.vv - g.l10*v10)
	v21 := m.va - o.va - g.l20*v10
	g.l21 = v21 * g.i1
	g.i2 = 1 / (m.aa + o.aa - g.l20*v20 - g.l21*v21)
	g.y0 = o.p.Sub(m.p)
	g.y1 = o.v.Add(m.v).Add(g.y0.Scale(g.l10)).Scale(-1)
	g.y2 = o.a.Sub(m.a).Sub(g.y0.Scale(g.l20)).Sub(g.y1.Scale(g.l21))
	return g
}

// agree returns the log likelihood of all that both motions were shown.
func (m *motion) agree(o *motion) float64 {
	g := m.gap(o)
	misfit := m.misfit + o.misfit + g.i0*g.y0.Dot(g.y0) + g.i1*g.y1.Dot(g.y1) + g.i2*g.y2.Dot(g.y2)
	f := m.foretold
	f.times(o.foretold.p)
	f.times(g.i0 * g.i1 * g.i2)
	return 1.5*(f.log()+o.foretold.logs) - 0.5*misfit
}

// meet returns the place on which both motions agree.
func (m *motion) meet(o *motion) geom.Vec3 {
	g := m.gap(o)
	// The first row of the gain m.P·(m.P + o.P)⁻¹, half divided.
	g0 := m.pp
	g1 := m.pv - g0*g.l10
	g2 := m.pa - g0*g.l20 - g1*g.l21
	return m.p.Add(g.y0.Scale(g0 * g.i0)).Add(g.y1.Scale(g1 * g.i1)).Add(g.y2.Scale(g2 * g.i2))
}
