package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// A ball that cameras see: it flies freely up to impact and freely after it, so
// nine numbers (where it was struck, and its velocities before and after) put it
// in every image. How well they can, for each instant of impact, is the
// evidence for that instant.

// ballDims is struck place, velocity before, velocity after.
const ballDims = 9

// flightReach is how much of the flight on each side of the guess is used,
// seconds: a little more than impact is sought in, and most bounces lie further
// back. All candidates are held against the same sights.
const flightReach = contactReach + 0.06

// dragPerMetre is the share of its speed that a ball loses in a metre:
// ρ·C_d·A/2m with C_d = 0.507 (literature.md G30, G31).
const dragPerMetre = 0.0186

// ballModel holds a ball's flight through impact at an instant.
type ballModel struct {
	m      *scene
	sights []sight
	near   geom.Vec3 // where it is struck, roughly
	spread float64   // sd of that, metres
	v      [ballDims]float64
}

// vec returns the k-th of the three vectors.
func (b *ballModel) vec(k int) geom.Vec3 {
	return geom.Vec3{X: b.v[3*k], Y: b.v[3*k+1], Z: b.v[3*k+2]}
}

// at returns the place dt seconds from impact.
func (b *ballModel) at(dt float64) geom.Vec3 {
	v := b.vec(1)
	if dt > 0 {
		v = b.vec(2)
	}
	s := v.Norm()
	along := dt
	if s > 1 {
		// Distance along the path under drag: ln(1 + k·s·t)/k.
		along = math.Log1p(math.Max(-0.9, dragPerMetre*s*dt)) / (dragPerMetre * s)
	}
	return b.vec(0).Add(v.Scale(along)).Add(geom.Vec3{Y: -0.5 * 9.80665 * dt * dt})
}

// Speeds of balls, as sds of each component, m/s: slow enough for a toss, wide
// enough for a serve (literature.md G21: 51 m/s).
const (
	speedBefore = 15.0
	speedAfter  = 25.0
)

// evidence returns the log evidence for impact at t: Laplace's approximation at
// the best flight, found by damped Gauss–Newton steps (Marquardt 1963).
func (b *ballModel) evidence(t float64) float64 {
	in := within(b.sights, b.m.w.Guess-flightReach, b.m.w.Guess+flightReach)
	if len(in) < 5 {
		return 0
	}
	p := b.near
	b.v = [ballDims]float64{p.X, p.Y, p.Z}
	var a band
	damping, cost := 1e-2, b.cost(in, t)
	for range 25 {
		before := b.v
		if !b.step(&a, in, t, damping) {
			return math.Inf(-1)
		}
		next := b.cost(in, t)
		if !(next < cost) {
			b.v = before
			if damping *= 8; damping > 1e6 {
				break
			}
			continue
		}
		done := cost-next < 0.01
		cost, damping = next, math.Max(1e-6, damping/6)
		if done {
			break
		}
	}
	if !b.step(&a, in, t, 0) {
		return math.Inf(-1)
	}
	return -cost - 0.5*a.logDet()
}

// speeds returns the ball's speeds just before and just after impact at t.
func (b *ballModel) speeds(t float64) (before, after speed) {
	if b.evidence(t) == 0 {
		return unknown, unknown
	}
	in := within(b.sights, b.m.w.Guess-flightReach, b.m.w.Guess+flightReach)
	var a band
	if !b.step(&a, in, t, 0) {
		return unknown, unknown
	}
	along := func(k int) speed {
		v := b.vec(k)
		n := v.Norm()
		if n < 0.5 {
			return unknown
		}
		u := v.Scale(1 / n)
		x := [ballDims]float64{}
		x[3*k], x[3*k+1], x[3*k+2] = u.X, u.Y, u.Z
		a.solve(x[:])
		return speed{n, math.Sqrt(u.X*x[3*k] + u.Y*x[3*k+1] + u.Z*x[3*k+2])}
	}
	return along(1), along(2)
}

// What the strings give back: the ball leaves at v_out = e·v_in + (1 + e)·V along
// the blow, V the racket's speed where it strikes (Brody, Cross & Lindsey;
// literature.md G28, G29: e is 0.45 at the centre, 0.50 at the throat, 0.10 at
// the tip).
const (
	restitution   = 0.40
	restitutionSD = 0.10
)

// blow returns the direction along which the ball was turned round at t, and
// the racket's speed along it that this took, with its sd; false without a clear blow.
func (b *ballModel) blow(t float64) (n geom.Vec3, speed, sd float64, ok bool) {
	if b.evidence(t) == 0 {
		return n, 0, 0, false
	}
	in := within(b.sights, b.m.w.Guess-flightReach, b.m.w.Guess+flightReach)
	var a band
	if !b.step(&a, in, t, 0) {
		return n, 0, 0, false
	}
	vin, vout := b.vec(1), b.vec(2)
	d := vout.Sub(vin)
	if d.Norm() < 8 { // m/s: not struck
		return n, 0, 0, false
	}
	n = d.Unit()
	const e = restitution
	speed = (vout.Dot(n) + e*vin.Dot(n)) / (1 + e)
	x := [ballDims]float64{}
	for k, c := range [3]float64{n.X, n.Y, n.Z} {
		x[3+k], x[6+k] = e*c/(1+e), c/(1+e)
	}
	g := x
	a.solve(x[:])
	variance := 0.0
	for i := range g {
		variance += g[i] * x[i]
	}
	// ∂speed/∂e = (v_in·n − speed)/(1 + e).
	variance += square((vin.Dot(n) - speed) / (1 + e) * restitutionSD)
	return n, speed, math.Sqrt(variance), true
}

// precisions are those of the prior on the three vectors.
func (b *ballModel) precisions() [3]float64 {
	return [3]float64{1 / (b.spread * b.spread), 1 / (speedBefore * speedBefore), 1 / (speedAfter * speedAfter)}
}

// cost is the negative log posterior of the present flight, up to a constant.
func (b *ballModel) cost(in []sight, t float64) (sum float64) {
	for i := range in {
		d := float64(in[i].dim())
		sum += (studentDF + d) / 2 * math.Log1p(in[i].chi2(b.at(in[i].t-t))/studentDF)
	}
	pri, place := b.precisions(), b.vec(0).Sub(b.near)
	v, u := b.vec(1), b.vec(2)
	return sum + 0.5*(pri[0]*place.Dot(place)+pri[1]*v.Dot(v)+pri[2]*u.Dot(u))
}

// step moves the flight by one damped Gauss–Newton step on the reweighted
// sights; a is left factored.
func (b *ballModel) step(a *band, in []sight, t, damping float64) bool {
	a.reset(ballDims, ballDims-1)
	var x [ballDims]float64
	pri := b.precisions()
	near := [3]float64{b.near.X, b.near.Y, b.near.Z}
	for i := range ballDims {
		a.add(i, i, pri[i/3])
		x[i] = -pri[i/3] * b.v[i]
		if i < 3 {
			x[i] += pri[0] * near[i]
		}
	}
	var room [3]line
	for i := range in {
		s := &in[i]
		dt := s.t - t
		p := b.at(dt)
		s.reweigh(p)
		k := 3
		if dt > 0 {
			k = 6
		}
		gain := dt
		if n := b.vec(k / 3).Norm(); n > 1 {
			gain = math.Log1p(math.Max(-0.9, dragPerMetre*n*dt)) / (dragPerMetre * n)
		}
		for _, l := range s.lines(p, room[:0]) {
			rest := l.y - l.c.Dot(p)
			idx := [...]int{0, 1, 2, k, k + 1, k + 2}
			c := [...]float64{l.c.X, l.c.Y, l.c.Z, gain * l.c.X, gain * l.c.Y, gain * l.c.Z}
			a.row(idx[:], c[:], 1/l.v)
			for j, q := range idx {
				x[q] += rest * c[j] / l.v
			}
		}
	}
	for i := range ballDims {
		k := i*ballDims + ballDims - 1
		a.a[k] += damping * a.a[k]
	}
	if !a.factor() {
		return false
	}
	if damping == 0 {
		return true // only the information is wanted
	}
	a.solve(x[:])
	for i := range x {
		b.v[i] += x[i]
	}
	return true
}

// ballSeen returns the model of a ball that cameras see; false without enough sights.
func (m *scene) ballSeen() (*ballModel, bool) {
	s := m.sights[body.Ball]
	if m.rig == nil || len(s) < 6 {
		return nil, false
	}
	var at geom.Vec3
	n := 0.0
	for _, p := range [2]body.Point{body.LeftWrist, body.RightWrist} {
		for i := range m.crossings[p] {
			if math.Abs(m.crossings[p][i].t-m.w.Guess) < 0.1 {
				at = at.Add(m.crossings[p][i].p)
				n++
			}
		}
	}
	if n == 0 {
		return nil, false
	}
	// A ball is struck within a racket's and an arm's length of the wrists' middle.
	return &ballModel{m: m, sights: s, near: at.Scale(1 / n), spread: 0.6}, true
}
