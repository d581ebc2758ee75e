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

// flightReach is how much of the flight on each side of the guess is used,
// seconds: a little more than impact is sought in, and most bounces lie further
// back. All candidates are held against the same sights.
const flightReach = contactReach + 0.06

// dragPerMetre is the share of its speed that a ball loses in a metre:
// ρ·C_d·A/2m with C_d = 0.507 (literature.md G30, G31).
const dragPerMetre = 0.0186

// ballModel holds a ball's flight through impact at an instant.
type ballModel struct {
	sights []sight   // around the guess
	near   geom.Vec3 // where it is struck, roughly
	spread float64   // sd of that, metres

	v    [3]geom.Vec3 // where it is struck, its velocities just before and just after
	best [3]geom.Vec3 // those of the likeliest candidate
	cost float64
	sums flightSums
}

// Speeds of balls, as sds of each component, m/s: slow enough for a toss, wide
// enough for a serve (literature.md G21: 51 m/s).
const (
	speedBefore = 15.0
	speedAfter  = 25.0
)

// stillGaining is the gain of a step, nats, below which a flight is taken for found: with
// 0.01 the evidence stopped up to 0.06 short.
const stillGaining = 0.002

// evidence returns the log evidence for impact at t: Laplace's approximation at
// the best flight, found from the present one by damped Gauss–Newton steps
// (Marquardt 1963). What a step will gain is known before it is made, so that the last one is
// not measured; nor is one where the cost stays over hopeless by far.
func (b *ballModel) evidence(t, hopeless float64) float64 {
	if len(b.sights) < leastFlight {
		return 0
	}
	b.measure(t)
	damping := 1e-2
	for range 25 {
		v, cost, sums := b.v, b.cost, b.sums
		gain, ok := b.step(damping)
		if !ok {
			return math.Inf(-1)
		}
		if gain < stillGaining || cost-10*gain > hopeless {
			b.cost -= gain
			break
		}
		b.measure(t)
		if !(b.cost < cost) {
			b.v, b.cost, b.sums = v, cost, sums
			if damping *= 8; damping > 1e6 {
				break
			}
			continue
		}
		damping = math.Max(1e-6, damping/6)
	}
	if !b.sums.factor(0) {
		return math.Inf(-1)
	}
	return -b.cost - 0.5*b.sums.logDet()
}

// choose returns the ball's evidence at each candidate: it has nothing to settle.
func (b *ballModel) choose(ts []float64) []float64 {
	b.settle(ts[len(ts)/2])
	b.best = b.v
	return b.scan(ts)
}

// scan returns the evidence at each candidate. Outward from the middle, for which the present
// flight is a start, a candidate sets out from where the flights of the two before it lead.
func (b *ballModel) scan(ts []float64) []float64 {
	vs := make([]float64, len(ts))
	mid := len(ts) / 2
	middle, least, top := b.v, math.Inf(1), math.Inf(-1)
	for _, way := range [2]int{1, -1} {
		last := middle
		b.v = middle
		for i := mid; i >= 0 && i < len(ts); i += way {
			from := b.v
			if i != mid {
				for k := range b.v {
					b.v[k] = from[k].Lerp(last[k], -1)
				}
			}
			vs[i] = b.evidence(ts[i], least+hopeless)
			last, least = from, math.Min(least, b.cost)
			if vs[i] > top {
				top, b.best = vs[i], b.v
			}
		}
	}
	return vs
}

// hopeless is how far over the best cost of others, in nats, a candidate's is not sought to
// the end.
const hopeless = 20.0

// finer is choose, from the best flight that it found: the evidence is the same near and far.
func (b *ballModel) finer(ts []float64, _ float64) []float64 {
	b.v = b.best
	return b.scan(ts)
}

// leastFlight is the least number of sights that show a flight.
const leastFlight = 5

// settle finds the flight for impact at t from the usual start; false without one.
func (b *ballModel) settle(t float64) bool {
	b.v = [3]geom.Vec3{b.near}
	v := b.evidence(t, math.Inf(1))
	return v != 0 && !math.IsInf(v, -1)
}

// What the strings give back: the ball leaves at v_out = e·v_in + (1 + e)·V along
// the blow, V the racket's speed where it strikes (Brody, Cross & Lindsey;
// literature.md G28, G29: e is 0.45 at the centre, 0.50 at the throat, 0.10 at
// the tip).
const (
	restitution   = 0.40
	restitutionSD = 0.10
)

// leastBlow is the least change of a ball's velocity that is a stroke, m/s.
const leastBlow = 8

// blow returns the direction along which the ball was turned round at t, and
// the racket's speed along it that this took, with its sd; false without a clear blow.
func (b *ballModel) blow(t float64) (n geom.Vec3, speed, sd float64, ok bool) {
	if !b.settle(t) {
		return n, 0, 0, false
	}
	vin, vout := b.v[1], b.v[2]
	d := vout.Sub(vin)
	if d.Norm() < leastBlow {
		return n, 0, 0, false
	}
	n = d.Unit()
	const e = restitution
	speed = (vout.Dot(n) + e*vin.Dot(n)) / (1 + e)
	x := [3]geom.Vec3{1: n.Scale(e / (1 + e)), 2: n.Scale(1 / (1 + e))}
	g := b.sums.solve(x)
	variance := x[1].Dot(g[1]) + x[2].Dot(g[2])
	// ∂speed/∂e = (v_in·n − speed)/(1 + e).
	variance += square((vin.Dot(n) - speed) / (1 + e) * restitutionSD)
	return n, speed, math.Sqrt(variance), true
}

// precisions are those of the prior on the three vectors.
func (b *ballModel) precisions() [3]float64 {
	return [3]float64{1 / (b.spread * b.spread), 1 / (speedBefore * speedBefore), 1 / (speedAfter * speedAfter)}
}

// measure sets cost, the negative log posterior of the present flight up to a
// constant, and the normal equations of a step from it, for impact at t.
func (b *ballModel) measure(t float64) {
	pri := b.precisions()
	place := b.v[0].Sub(b.near)
	b.cost = 0.5 * (pri[0]*place.Dot(place) + pri[1]*b.v[1].Dot(b.v[1]) + pri[2]*b.v[2].Dot(b.v[2]))
	q := &b.sums
	*q = flightSums{place: diagonal(pri[0]), v: [2]sym3{diagonal(pri[1]), diagonal(pri[2])}}
	q.toPlace = place.Scale(-pri[0])
	q.toV = [2]geom.Vec3{b.v[1].Scale(-pri[1]), b.v[2].Scale(-pri[2])}
	drag := [2]float64{b.drag(0), b.drag(1)}
	var misfits [4]product // by dimension
	for i := range b.sights {
		s := &b.sights[i]
		dt, side := s.t-t, 0
		if dt > 0 {
			side = 1
		}
		gain := along(dt, drag[side])
		p := b.v[0].Add(b.v[1+side].Scale(gain))
		p.Y -= 0.5 * gravity * dt * dt
		chi2, info, pull := s.look(p)
		d := s.dim()
		misfits[d].times(1 + chi2/studentDF)
		w := robustWeight(chi2, d)
		q.add(side, gain, &info, pull, w)
	}
	for d := range misfits {
		b.cost += (studentDF + float64(d)) / 2 * misfits[d].log()
	}
}

// gravity is the acceleration of what falls, m/s² (standard).
const gravity = 9.80665

// drag is the share of its speed that the ball loses in a second, before impact
// (side 0) or after (1); 0 where it hardly moves.
func (b *ballModel) drag(side int) float64 {
	if n := b.v[1+side].Norm(); n > 1 {
		return dragPerMetre * n
	}
	return 0
}

// along returns the way over the velocity at impact that a ball makes in dt
// seconds from it under drag: ln(1 + k·dt)/k.
func along(dt, k float64) float64 {
	x := k * dt
	if !(math.Abs(x) < 0.25) {
		return math.Log(1+math.Max(-0.9, x)) / k
	}
	// ln(1 + x) = 2·artanh(x/(2 + x)), by its series: what is left out is under 2⁻⁵² here.
	z := x / (2 + x)
	z *= z
	z = 1 + z*(1./3+z*(1./5+z*(1./7+z*(1./9+z*(1./11+z*(1./13+z*(1./15+z/17)))))))
	return 2 * dt / (2 + x) * z
}

// step moves the flight by one damped Gauss–Newton step, and returns the least that it gains
// while the cost is as the step takes it.
func (b *ballModel) step(damping float64) (gain float64, ok bool) {
	if !b.sums.factor(damping) {
		return 0, false
	}
	pull := [3]geom.Vec3{b.sums.toPlace, b.sums.toV[0], b.sums.toV[1]}
	for i, d := range b.sums.solve(pull) {
		b.v[i] = b.v[i].Add(d)
		gain += 0.5 * d.Dot(pull[i])
	}
	return gain, true
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
	in := within(s, m.w.Guess-flightReach, m.w.Guess+flightReach)
	return &ballModel{sights: in, near: at.Scale(1 / n), spread: 0.6}, true
}
