package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// The ball's speeds. Before and after impact it flies under gravity, drag and what
// its spin does; each flight has a place, a velocity and a steady acceleration
// beside the usual drag, both have the one upright. Its errors are those of the
// sights, white and lasting, pushed through the fit, as for all points.

// fitDims is, for the flights before and after: place, velocity, acceleration; and
// how far gravity leans from the upright that was taken, in two directions.
const (
	fitDims  = 20
	leanFrom = 18
)

const (
	gravityAccel = 9.80665 // m/s², 3rd CGPM 1901

	// Drag coefficients of tennis balls run from 0.5 to 0.65 as they fluff up and
	// wear (Cross & Lindsey 2014, Sports Eng 17:89): an sd of a sixth. Spin lifts
	// them by 0.1–0.3 of dynamic pressure (the same), a half of the drag.
	dragDoubt = 0.17
	liftDoubt = 0.4
	restDoubt = 0.3 // m/s², what is left of a slow ball's

	leaveBy = 0.006 // s after impact until which strings may hold the ball (literature.md 4.2: 4–5 ms)
	// flightSpan is how far from impact sights are used, seconds: as far as four
	// sights in five see no bounce, and a steady acceleration stands for the rest.
	flightSpan = 0.25
	firstSpan  = 0.09 // s, from where a flight is followed away from impact

	// strayMiss is the squared misfit, in sds, from which a sight is off the flight;
	// two of them running end it: a bounce, a hand, another ball.
	strayMiss = 16
)

// ballFit is the flight through an impact at an instant.
type ballFit struct {
	at     float64     // s, where both flights' places stand
	sights []sight     // in use, by time
	path   []geom.Vec3 // where the flights are at the sights
	joined float64     // sd of the gap between the two flights at impact, metres
	near   geom.Vec3
	spread float64 // sd of the struck place, metres; 0: not said
	lean   float64 // sd of gravity's lean, radians

	v     [fitDims]float64
	fac   band
	rows  rows
	prior rows
	links []link
	lasts int
	seen  [2]bool    // whether each flight was seen often enough to tell its speed
	scale [2]float64 // what the sights' errors before and after are to what was thought
}

func (b *ballFit) vec(k int) geom.Vec3 {
	return geom.Vec3{X: b.v[3*k], Y: b.v[3*k+1], Z: b.v[3*k+2]}
}

// fly steps a flight from its place and velocity over dt seconds under gravity,
// usual drag and the acceleration a, by the midpoint rule.
func (b *ballFit) fly(p, v, a geom.Vec3, dt float64) (geom.Vec3, geom.Vec3) {
	g := geom.Vec3{X: b.v[leanFrom], Y: -1, Z: b.v[leanFrom+1]}.Scale(gravityAccel)
	n := math.Ceil(math.Abs(dt) / 0.012)
	h := dt / math.Max(1, n)
	for range int(n) {
		pull := func(v geom.Vec3) geom.Vec3 { return g.Add(a).Sub(v.Scale(dragPerMetre * v.Norm())) }
		mid := v.Add(pull(v).Scale(h / 2))
		p = p.Add(mid.Scale(h))
		v = v.Add(pull(mid).Scale(h))
	}
	return p, v
}

// side returns which flight is seen at t: 0 before impact, 1 after.
func (b *ballFit) side(t float64) int {
	if t > b.at {
		return 1
	}
	return 0
}

// place returns where the ball is at t.
func (b *ballFit) place(t float64) geom.Vec3 {
	k := 3 * b.side(t)
	p, _ := b.fly(b.vec(k), b.vec(k+1), b.vec(k+2), t-b.at)
	return p
}

// walk sets the path: from impact outwards, each sight from the one before it.
func (b *ballFit) walk() {
	b.path = append(b.path[:0], make([]geom.Vec3, len(b.sights))...)
	after := 0
	for after < len(b.sights) && b.side(b.sights[after].t) == 0 {
		after++
	}
	for k, way := range [2]int{-1, 1} {
		t, p, v, a := b.at, b.vec(3*k), b.vec(3*k+1), b.vec(3*k+2)
		for i := after + min(0, way); i >= 0 && i < len(b.sights); i += way {
			p, v = b.fly(p, v, a, b.sights[i].t-t)
			t, b.path[i] = b.sights[i].t, p
		}
	}
}

// restFlight is the change of a flight's numbers (m, m/s, m/s²) under which it rests: what is
// left is less than that, a thirtieth of what a ball's speed is known by.
const restFlight = 1e-3

// settle fits the flights; false when the sights leave them open.
func (b *ballFit) settle(passes int) bool {
	for range passes {
		b.linearise()
		x := make([]float64, fitDims)
		b.prior.inform(&b.fac, x)
		b.rows.inform(&b.fac, x)
		if !b.fac.factor() {
			return false
		}
		b.fac.solve(x)
		move := 0.0
		for i := range x {
			if b.v[i] += x[i]; math.IsNaN(b.v[i]) || math.Abs(b.v[i]) > 1e4 {
				return false
			}
			move = math.Max(move, math.Abs(x[i]))
		}
		if move < restFlight {
			break
		}
	}
	return true
}

// linearise writes prior and sights about the present flights.
func (b *ballFit) linearise() {
	b.fac.reset(fitDims, fitDims-1)
	b.prior.reset()
	b.rows.reset()
	b.believe()
	b.walk()
	var room [3]line
	for i := range b.sights {
		s := &b.sights[i]
		k := 9 * b.side(s.t)
		dt := s.t - b.at
		p := b.path[i]
		s.reweigh(p)
		// By velocity: the path under drag; by acceleration: half the square.
		gain, half := dt, dt*dt/2
		if n := b.vec(k/3 + 1).Norm(); n > 1 {
			gain = math.Log1p(math.Max(-0.9, dragPerMetre*n*dt)) / (dragPerMetre * n)
		}
		for _, l := range s.lines(p, room[:0]) {
			for j, c := range [3]float64{l.c.X, l.c.Y, l.c.Z} {
				b.rows.entry(k+j, c)
			}
			for j, c := range [3]float64{l.c.X, l.c.Y, l.c.Z} {
				b.rows.entry(k+3+j, gain*c)
			}
			for j, c := range [3]float64{l.c.X, l.c.Y, l.c.Z} {
				b.rows.entry(k+6+j, half*c)
			}
			b.rows.entry(leanFrom, half*gravityAccel*l.c.X)
			b.rows.entry(leanFrom+1, half*gravityAccel*l.c.Z)
			b.rows.end(l.y-l.c.Dot(p), 1/l.v)
		}
	}
}

// believe writes the prior on the changes of the present flights.
func (b *ballFit) believe() {
	one := func(i int, toward, sd float64) {
		b.prior.entry(i, 1)
		b.prior.end(toward-b.v[i], 1/(sd*sd))
	}
	for k, sd := range [2]float64{speedBefore, speedAfter} {
		v := b.vec(3*k + 1)
		for j := range 3 {
			one(9*k+3+j, 0, 2*sd)
		}
		// Beside usual drag: along the velocity drag's own doubt, across it spin's.
		n, a := v.Norm(), b.vec(3*k+2)
		drag := dragPerMetre * n * n
		u := v.Unit()
		e1 := anyPerpendicular(u)
		for _, d := range [3]struct {
			dir geom.Vec3
			sd  float64
		}{{u, dragDoubt}, {e1, liftDoubt}, {u.Cross(e1), liftDoubt}} {
			sd := math.Hypot(restDoubt, d.sd*drag)
			b.prior.entry(9*k+6, d.dir.X)
			b.prior.entry(9*k+7, d.dir.Y)
			b.prior.entry(9*k+8, d.dir.Z)
			b.prior.end(-d.dir.Dot(a), 1/(sd*sd))
		}
	}
	for j := range 3 {
		b.prior.entry(j, 1)
		b.prior.entry(9+j, -1)
		b.prior.end(b.v[9+j]-b.v[j], 1/(b.joined*b.joined))
	}
	if b.spread > 0 {
		for j, c := range [3]float64{b.near.X, b.near.Y, b.near.Z} {
			one(j, c, b.spread)
		}
	}
	for j := range 2 {
		one(leanFrom+j, 0, math.Max(b.lean, 1e-4))
	}
}

// take follows the flights away from impact through the sights s, as far as they
// are free, and fits them.
func (b *ballFit) take(s []sight) bool {
	before := within(s, b.at-flightSpan, b.at-dwellLead-0.0005)
	after := within(s, b.at-dwellLead+leaveBy, b.at+flightSpan)
	use := [2]int{reaching(before, b.at, -1, firstSpan), reaching(after, b.at, +1, firstSpan)}
	done := [2]bool{}
	for range 12 {
		b.sights = append(append(b.sights[:0], before[len(before)-use[0]:]...), after[:use[1]]...)
		if !b.settle(2) { // well enough to be followed
			return false
		}
		grown := false
		for k, pool := range [2][]sight{before, after} {
			if done[k] || use[k] == len(pool) {
				continue
			}
			want := min(len(pool), max(use[k]+3, use[k]*3/2))
			use[k], done[k] = b.follow(pool, k, use[k], want)
			grown = true
		}
		if !grown {
			break
		}
	}
	b.sights = append(append(b.sights[:0], before[len(before)-use[0]:]...), after[:use[1]]...)
	b.seen = [2]bool{use[0] >= 4, use[1] >= 4}
	return (b.seen[0] || b.seen[1]) && b.settle(10)
}

// reaching returns how many sights on a side lie within span of impact, at least five
// where there are so many.
func reaching(s []sight, at float64, side int, span float64) int {
	n := 0
	for n < len(s) {
		x := s[n].t
		if side < 0 {
			x = s[len(s)-1-n].t
		}
		if n >= 5 && math.Abs(x-at) > span {
			break
		}
		n++
	}
	return n
}

// follow returns how many of the sights on side k, from impact outwards, fit the
// present flight, looking at those from the have-th to the want-th; and whether the
// flight has ended.
func (b *ballFit) follow(pool []sight, k, have, want int) (int, bool) {
	missed := 0
	for n := have; n < want; n++ {
		s := &pool[n]
		if k == 0 {
			s = &pool[len(pool)-1-n]
		}
		dt := s.t - b.at
		// What the flight itself is not known by there: the doubt of its acceleration.
		loose := 0.5 * dt * dt * 3
		sd := s.sd
		if s.eye != nil {
			sd = math.Hypot(sd, loose*s.eye.Focal/math.Max(1, s.eye.InCamera(b.place(s.t)).Z))
		} else {
			sd = math.Hypot(sd, loose)
		}
		if miss := s.chi2(b.place(s.t)) * s.sd * s.sd / (sd * sd); miss < strayMiss*float64(s.dim())/2 {
			missed = 0
			continue
		}
		if missed++; missed == 2 {
			return n - 1, true
		}
	}
	return want, false
}

// weigh learns from the residuals how much larger the sights' errors are than was
// thought: a ball is blurred by its speed. Ten sights' worth of the old opinion stays.
func (b *ballFit) weigh() {
	var sum, count [2]float64
	b.walk()
	for i := range b.sights {
		s := &b.sights[i]
		k, d := b.side(s.t), float64(s.dim())
		sum[k] += s.w * s.chi2(b.path[i])
		count[k] += d
	}
	for k := range sum {
		free := math.Max(1, count[k]-6) // place and velocity were fitted
		b.scale[k] = math.Sqrt((sum[k] + 20) / (free + 20))
	}
}

// velocities returns those just before impact and just after the strings, of the
// flights changed by x (nil: not changed); NaN where a flight was not seen.
func (b *ballFit) velocities(x []float64) (in, out geom.Vec3) {
	at := func(k int) geom.Vec3 {
		v := b.vec(k)
		if x != nil {
			v = v.Add(geom.Vec3{X: x[3*k], Y: x[3*k+1], Z: x[3*k+2]})
		}
		return v
	}
	in = at(1)
	_, out = b.fly(geom.Vec3{}, at(4), at(5), dwellLead) // the flights stand at the middle of the hold
	nan := geom.Vec3{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
	if !b.seen[0] {
		in = nan
	}
	if !b.seen[1] {
		out = nan
	}
	return in, out
}

// ready makes the fit fit to be drawn from.
func (b *ballFit) ready() bool {
	b.weigh()
	b.linearise()
	b.prior.inform(&b.fac, nil)
	b.rows.inform(&b.fac, nil)
	if !b.fac.factor() {
		return false
	}
	var l linker
	for i := range b.sights {
		b.links = append(b.links, l.link(&b.sights[i], 0))
	}
	b.lasts = len(l.last)
	return true
}

// draw returns the velocities of one draw.
func (b *ballFit) draw(rng *dice) (in, out geom.Vec3) {
	x := make([]float64, fitDims)
	b.prior.shakeFlat(x, rng)
	last := make([]geom.Vec3, b.lasts)
	k := 0
	for i := range b.sights {
		s := &b.sights[i]
		v := b.links[i].next(s, &last[b.links[i].strand], rng).Scale(b.scale[b.side(s.t)])
		e := [3]float64{v.X, v.Y, v.Z}
		for d := range s.dim() {
			b.rows.push(x, k, e[d])
			k++
		}
	}
	b.fac.solve(x)
	return b.velocities(x)
}

// fitBall fits the ball's flights through an impact at contact; nil where it was not
// seen.
func (m *scene) fitBall(contact float64) *ballFit {
	b := &ballFit{
		at:     contact + dwellLead,
		joined: math.Hypot(0.02, turnedBy*m.contactSD),
		lean:   math.Hypot(m.upright, courtLean),
	}
	pool := m.sights[body.Ball]
	if m.rig != nil {
		start, ok := m.ballSeen()
		if !ok || !start.settle(b.at) {
			return nil
		}
		b.near, b.spread = start.near, start.spread
		for k, v := range [...]geom.Vec3{start.v[0], start.v[1], {}, start.v[0], start.v[2]} {
			b.v[3*k], b.v[3*k+1], b.v[3*k+2] = v.X, v.Y, v.Z
		}
	} else {
		for k, part := range [2][]sight{within(pool, b.at-ballReach, b.at-dwellLead), within(pool, b.at-dwellLead+leaveBy, b.at+ballReach)} {
			p, ok := straightFlight(part, b.at)
			if !ok {
				continue
			}
			for j, v := range p[:2] {
				b.v[9*k+3*j], b.v[9*k+3*j+1], b.v[9*k+3*j+2] = v.X, v.Y, v.Z
			}
		}
	}
	if !b.take(slices.Clone(pool)) || !b.ready() {
		return nil
	}
	return b
}

const (
	turnedBy  = 45.0  // m/s, by which strokes turn a ball's velocity: 15 in, 30 out
	courtLean = 0.002 // rad: upright of a court's marks or of a marker system
)
