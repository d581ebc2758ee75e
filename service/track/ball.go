package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// ballReach is how much flight on each side of impact speaks for the ball's
// speed, seconds: long enough for 8 mm at 60 Hz to give 1 %, short enough to
// miss most bounces.
const ballReach = 0.16

// speed is a fitted speed with its sd, m/s; NaN when it cannot be had.
type speed struct{ v, sd float64 }

// flight is the posterior of what the ball told.
type flight struct {
	release, apex speed // seconds; metres
	ball          *ballFit
}

// followBall fits the flight before and after impact.
func (m *scene) followBall(contact float64) flight {
	f := flight{ball: m.fitBall(contact), release: unknown, apex: unknown}
	if m.rig == nil {
		f.release = m.release(contact)
		f.apex = highest(within(m.sights[body.Ball], math.Inf(-1), contact))
	}
	return f
}

var unknown = speed{math.NaN(), math.NaN()}

// heldReach is how far a held ball's centre is from the wrist joint at most,
// metres: a hand's length from wrist to fingertips (0.108 of stature, Drillis &
// Contini 1966, via Winter; from memory) for a tall player.
const heldReach = 0.22

// release finds when the tossed ball and the wrist part: the last wrist that it
// leaves, for a server's hands part with the ball in one of them before. The gap is
// constant while the ball is held and then opens without a jump in speed, since the
// ball leaves as the hand begins to slow by more than gravity does. unknown unless
// the ball was held and then flew up.
func (m *scene) release(contact float64) speed {
	best := unknown
	for _, wrist := range [2]body.Point{body.LeftWrist, body.RightWrist} {
		if m.paths[wrist] == nil {
			continue
		}
		gap := m.gaps(wrist, contact)
		if r, ok := parting(gap); ok && !(r.v < best.v) {
			best = r
		}
	}
	return best
}

// gaps lists the distance of the ball from a wrist up to contact.
func (m *scene) gaps(wrist body.Point, contact float64) (out []geom.Vec3) {
	for _, s := range within(m.sights[body.Ball], math.Inf(-1), contact) {
		if s.kind == place && s.t > m.g.t[0] {
			out = append(out, geom.Vec3{X: s.t, Y: s.p.Sub(m.paths[wrist].at(s.t)).Norm()})
		}
	}
	return out
}

// parting fits a level and a curve that leaves it softly at the release, to the
// gaps (X seconds, Y metres) until they have grown to 0.5 m.
func parting(gap []geom.Vec3) (r speed, ok bool) {
	last := -1 // last instant at which the ball was within reach, and not for a single sight
	for i, g := range gap {
		if i > 0 && g.Y < heldReach && gap[i-1].Y < heldReach {
			last = i
		}
	}
	if last < 5 || last+4 >= len(gap) {
		return unknown, false
	}
	near := gap[max(0, last-24):]
	for i, g := range near {
		if g.Y > 0.5 && g.X > gap[last].X {
			near = near[:i]
			break
		}
	}
	at, least := 0.0, math.Inf(1)
	for t := gap[last].X - 0.12; t <= gap[last].X+0.02; t += 0.002 {
		if e := hinge(near, t); e < least {
			at, least = t, e
		}
	}
	second := hinge(near, at-0.01) + hinge(near, at+0.01) - 2*least
	n := float64(len(near))
	if n < 8 || !(second > 0) {
		return unknown, false
	}
	// Curvature of the sum of squares at its least gives the variance.
	sd := math.Sqrt(2 * least / (n - 4) / (second / 1e-4))
	return speed{at, math.Hypot(sd, partingDoubt)}, true
}

// partingDoubt is what the form of the parting leaves in doubt, seconds: a gap that opens
// without a jump in speed puts the release some 24 ms earlier than one that opens with one,
// and real partings lie between: the sd of a uniform error that wide.
const partingDoubt = 0.007

// hinge is the sum of squares about level + a·d² + b·d³, d = max(0, t−at): speeds join
// at the release, so there is no term in d. One with it finds releases 18 ms late.
func hinge(gap []geom.Vec3, at float64) float64 {
	var b band
	b.reset(3, 2)
	x := [3]float64{}
	for _, g := range gap {
		d := math.Max(0, g.X-at)
		c := [3]float64{1, d * d, d * d * d}
		b.row([]int{0, 1, 2}, c[:], 1)
		for k := range 3 {
			x[k] += c[k] * g.Y
		}
	}
	for k := range 3 {
		b.add(k, k, 1e-9)
	}
	if !b.factor() {
		return math.Inf(1)
	}
	b.solve(x[:])
	sum := 0.0
	for _, g := range gap {
		d := math.Max(0, g.X-at)
		e := g.Y - x[0] - x[1]*d*d - x[2]*d*d*d
		sum += e * e
	}
	return sum
}

// apexReach is how much of the flight on each side of the highest sight tells the apex,
// seconds; mostDoubted is the weight up to which a sight is taken for something else.
const (
	apexReach   = 0.12
	mostDoubted = 0.2
)

// highest fits a parabola to the ball's height around its highest sight and
// returns the apex. A sight that the others contradict is no part of the flight, and not
// its highest either; unknown without five that agree.
func highest(s []sight) speed {
	s = slices.Clone(s)
	for len(s) >= leastFlight {
		top := 0
		for i := range s {
			if s[i].p.Y > s[top].p.Y {
				top = i
			}
		}
		near := within(s, s[top].t-apexReach, s[top].t+apexReach)
		p, sd, weight, ok := parabola(near, &s[top])
		if !ok || weight < mostDoubted {
			s = slices.Delete(s, top, top+1)
			continue
		}
		rise := 0.0
		if a := -2 * p[2].Y; a > 1 {
			if dt := p[1].Y / a; math.Abs(dt) < 0.1 {
				rise = 0.5 * p[1].Y * dt
			}
		}
		return speed{p[0].Y + rise, sd[0]}
	}
	return unknown
}

// parabola fits sights from the instant of one of them under Student t noise, by
// reweighing, and returns that one's weight; false without five sights.
func parabola(s []sight, about *sight) (p [3]geom.Vec3, sd [2]float64, weight float64, ok bool) {
	if len(s) < leastFlight {
		return p, sd, 0, false
	}
	doubt := func(x *sight) float64 {
		d := x.t - about.t
		miss := x.p.Sub(p[0].Add(p[1].Scale(d)).Add(p[2].Scale(d * d)))
		return robustWeight(miss.Dot(miss)/square(x.sd), 3)
	}
	weighed := slices.Clone(s)
	for range 8 {
		if p, sd, ok = quadratic(weighed, about.t); !ok {
			return p, sd, 0, false
		}
		for i := range s {
			weighed[i].sd = s[i].sd / math.Sqrt(doubt(&s[i]))
		}
	}
	return p, sd, doubt(about), true
}

// straightFlight fits a flight under gravity and a linear loss of speed (a quadratic
// on each axis) from the instant at; false with fewer than four sights. Sights that fit
// badly are left out.
func straightFlight(s []sight, at float64) (p [3]geom.Vec3, ok bool) {
	for range 3 {
		if len(s) < 4 {
			return p, false
		}
		if p, _, ok = quadratic(s, at); !ok {
			return p, false
		}
		kept := keepFit(s, p, at)
		if len(kept) == len(s) {
			return p, true
		}
		s = kept
	}
	return p, false
}

func keepFit(s []sight, p [3]geom.Vec3, at float64) (out []sight) {
	for _, x := range s {
		d := x.t - at
		q := p[0].Add(p[1].Scale(d)).Add(p[2].Scale(d * d))
		if x.p.Sub(q).Norm() < 5*x.sd {
			out = append(out, x)
		}
	}
	return out
}

// quadratic fits p0 + p1·d + p2·d², d = t − at, by weighted least squares,
// with a prior on 2·p2 of gravity (0, −9.81, 0) ± 20 m/s² for drag. sd holds
// the sds of p0 and p1 on each axis.
func quadratic(s []sight, at float64) (p [3]geom.Vec3, sd [2]float64, ok bool) {
	var b band
	b.reset(3, 2)
	var x [3][3]float64
	for i := range s {
		d := s[i].t - at
		w := 1 / (s[i].sd * s[i].sd)
		c := [3]float64{1, d, d * d}
		b.row([]int{0, 1, 2}, c[:], w)
		for k := range 3 {
			x[0][k] += w * c[k] * s[i].p.X
			x[1][k] += w * c[k] * s[i].p.Y
			x[2][k] += w * c[k] * s[i].p.Z
		}
	}
	const w = 1.0 / (10 * 10)
	b.add(2, 2, w)
	x[1][2] += w * -4.903
	if !b.factor() {
		return p, sd, false
	}
	for a := range 3 {
		b.solve(x[a][:])
	}
	for k := range 3 {
		p[k] = geom.Vec3{X: x[0][k], Y: x[1][k], Z: x[2][k]}
	}
	for k := range 2 {
		e := [3]float64{}
		e[k] = 1
		b.solve(e[:])
		sd[k] = math.Sqrt(e[k])
	}
	return p, sd, true
}

// told writes the flight, or a draw from it, on the course of the racket.
func (f *flight) told(c *Course, rng *dice) {
	one := func(s speed) float64 {
		if rng == nil {
			return s.v
		}
		return s.v + s.sd*rng.NormFloat64()
	}
	nan := math.NaN()
	c.Ball = Flight{Release: one(f.release), Apex: one(f.apex), SpeedIn: nan, SpeedOut: nan, Surplus: nan, SurplusSD: nan}
	if f.ball == nil {
		return
	}
	in, out := f.ball.velocities(nil)
	if rng != nil {
		in, out = f.ball.draw(rng)
	}
	c.Ball.SpeedIn, c.Ball.SpeedOut = in.Norm(), out.Norm()
	c.Ball.Surplus, c.Ball.SurplusSD = c.surplus(in, out)
}

// struckBy is how far along the racket from the middle of its head balls are struck,
// as an sd, metres: good players' hits scatter by some centimetres. Common practice, no
// source.
const struckBy = 0.05

// surplus returns the racket's speed along the blow that it took to turn the ball
// from one velocity to the other, less the speed that the head's centre has, m/s; and
// its sd as far as the racket's apparent restitution and the place of the hit are not
// known: three sds of the restitution hold all from a racket's tip to its throat. NaN
// without a racket, a ball or a blow.
func (c *Course) surplus(in, out geom.Vec3) (v, sd float64) {
	d := out.Sub(in)
	if !c.HasRacket || !(d.Norm() > leastBlow) {
		return math.NaN(), math.NaN()
	}
	n, b := d.Unit(), c.Break
	took := (out.Dot(n) + restitution*in.Dot(n)) / (1 + restitution)
	// ∂took/∂e = (in·n − took)/(1 + e); the struck point's speed changes by u̇·n a metre.
	sd = math.Hypot((in.Dot(n)-took)/(1+restitution)*restitutionSD, c.AxisVel[b].Dot(n)*struckBy)
	return took - c.CenterVel[b].Dot(n), sd
}
