package swing

import (
	"math"

	"example.com/courtkin/service/geom"
)

// A ball's way across an image is told by seven numbers: seen from a camera, a flight
// at the depth Z·(1 + c·t) that goes by (x + a·t + q·t²/2, y + b·t + (g + r)·t²/2) at
// Z shows that over 1 + c·t. Times 1 + c·t it is linear in all seven, wherever the
// image's origin is: c makes up for what another origin adds. c is the share of its
// distance that the ball comes nearer in a second, (q, r) what drag, spin and a slope of
// the camera add to gravity.
const (
	passArm  = 0.13 // s of flight on each side of a break
	passMost = 12   // sights on each side
	passDeep = 3.0  // 1/s, sd of c: 25 m/s over 8 m
	passBend = 12.0 // m/s², sd of q and r, of a ball up to 25 m/s; a faster one is slowed by passDrag times its speed squared
	passDrag = 0.02 // 1/m: ½·ρ·c·A/m of a ball, drag coefficient 0.55 (Mehta & Pallis 2001, from memory)

	// passStamp is the sd of a frame's time, seconds of the clip, which a ball turns into as many metres as it
	// flies meanwhile: a phone's stamps are a millisecond off (common practice, no source).
	passStamp = 0.001
	passOdd   = 16.0 // a sight four sds off the flight that fits the others is none of the ball

	// A break costs the one flight through all sights passGain more than the two, five
	// sds, at the rim of what counts as the racket's head, and less where it is nearer to the
	// strings' middle: chance would have it within x of headReach in x² of the cases. Both must be flights, of passCost for each sight at most (two numbers, one sd
	// each, and what the beliefs cost), no faster along the line of sight than passFast, and meet.
	passGain = 25.0
	passNear = 0.1 // of headReach: what noise leaves of it
	passCost = 4.0
	passFast = 8.0  // 1/s: 40 m/s over 5 m
	passMeet = 0.12 // m: two sds of a sight at each, and what half a frame of 8 m/s adds

	// What takes the ball back where it came from, or aside, is no bounce.
	passBack  = 3.0   // sds of the change along the line of sight, its sign turned
	passPlain = 100.0 // ten sds of break leave no doubt

	// faintGain is the same, four sds, where hand and racket show a swing by themselves, which leaves
	// few instants for chance.
	faintGain = 16.0

	// toldGain is what two sights beyond a break make the two flights better than the one by, at
	// least, before it is called: they are four numbers, of which chance makes 4 ± 3.
	toldGain = 16.0

	// bounceMost is the greatest change of velocity in a bounce, m/s: a ball that fell from 3 m
	// comes down at 7.7 and springs up at three quarters of that.
	bounceMost = 13.0

	// handAside is how fast, m/s, a hand that a ball leaves or comes into turns it aside at
	// most; bounced by hand and tossed, balls go up and down.
	handAside = 5.0
)

// passBreak says whether the ball's flight broke at a frame of an image that shows the
// racket: the strongest sign of a stroke there is, and in the image of a camera behind or
// before the player often one of depth alone.
func (v *view) passBreak(k uint64, b *flightBreak) {
	in, out, gain, ok := v.passesAt(k)
	if !ok {
		return
	}
	b.turn = out.Vel.Sub(in.Vel)
	b.jump = b.turn.Norm()
	b.sure = math.Sqrt(math.Max(gain, 0))
	up := b.turn.Dot(v.up(k))
	aside := math.Sqrt(math.Max(b.jump*b.jump-up*up, 0))
	at := meeting(&in.motion, &out.motion, v.seconds(v.ring.time(k), v.ring.time(k+1)))
	apart := out.Pos.Sub(in.Pos).Add(b.turn.Scale(at)).Norm()
	flights := math.Max(math.Abs(in.deep), math.Abs(out.deep)) < passFast && in.fits() && out.fits() && apart < passMeet
	gain -= 4 * math.Log(math.Max(v.ballAtHead(k), passNear)) // twice the log-odds
	least := passGain
	if v.faint {
		least = faintGain
	}
	if gain < least || !flights || aside < handAside && v.held(k) {
		return
	}
	back := in.deep*out.deep < 0 && math.Abs(out.deep-in.deep) > passBack*math.Hypot(in.deepSD, out.deepSD)
	b.faint = gain < passGain || b.jump < metTurn && !back
	if b.faint && !v.faint {
		return
	}
	// What the ball tells and what hand and racket do are weighed together.
	b.hit, b.atUS, b.asks = true, v.ring.time(k)+v.us(at), passGain/gain
	b.bounce = up > straightUp*b.jump && !back && !v.overHips(k, in.Pos)
	// A ball that fell and rises, and is not seen to go back or aside, may have bounced beyond the
	// racket: on its way to be hit it does so half a second before, and a camera that stands
	// high shows the ground there over the player's head.
	fell := !back && in.Vel.Dot(v.up(k)) < 0 && out.Vel.Dot(v.up(k)) > 0 && up > straightUp*b.jump && b.jump < bounceMost
	b.plain = !b.bounce && !fell && (b.jump >= ballJump || gain >= passPlain)
}

// fits reports whether the sights lie on a flight.
func (p *pass) fits() bool { return p.cost < passCost*float64(p.n) }

// pass is a flight fitted to sights in an image, at the break.
type pass struct {
	motion         // m, m/s, as at the body's distance
	sd     float64 // of the velocity along either axis, m/s
	deep   float64 // 1/s: by how much of its distance it goes away in a second …
	deepSD float64 // … and the sd
	noise  float64 // m, sd of a sight along either axis, with what the frames' times add
	cost   float64 // sum of squares over the noise, what the beliefs cost besides
	n      int     // sights
}

// sights are those of a ball about a break, nearest first, m from the first before it.
type sights struct {
	n int
	t [passMost]float64
	x [passMost]geom.Vec3
}

func (s *sights) drop(i int) {
	copy(s.t[i:s.n], s.t[i+1:s.n])
	copy(s.x[i:s.n], s.x[i+1:s.n])
	s.n--
}

// sightsOf gathers the ball's sights up to a frame (side −1) or after it (+1).
func (v *view) sightsOf(place uint64, side int64) (s sights) {
	v.ballSights(place, side, passArm, func(t float64, x geom.Vec3) bool {
		s.t[s.n], s.x[s.n] = t, x
		s.n++
		return s.n < passMost
	})
	return s
}

// passesAt fits the ball's flights before and after a frame, and one flight to both:
// gain is by how much less the two cost. ok is false where either was not seen.
func (v *view) passesAt(place uint64) (in, out pass, gain float64, ok bool) {
	a, b := v.sightsOf(place, -1), v.sightsOf(place, +1)
	if a.n < 3 || b.n < 2 {
		return in, out, 0, false
	}
	noise := math.Max(ballBlur*v.scale, 0.003)
	fall := v.up(place).Scale(-9.81)
	from := a.x[0]
	in, out = v.pass(&a, from, fall, noise), v.pass(&b, from, fall, noise)
	if in.n < 3 || out.n < 2 {
		return in, out, 0, false
	}
	one := func(b *sights) float64 { return v.oneFlight(&a, b, from, fall, in.noise, out.noise) }
	if b.n > 2 {
		return in, out, one(&b) - in.cost - out.cost, true
	}
	// A fast ball leaves the picture within a few frames. One of two sights may be an outlier:
	// then what the other says alone.
	gain = math.Inf(1)
	for i := range b.n {
		less := b
		less.drop(i)
		gain = math.Min(gain, one(&less)-in.cost)
	}
	return in, out, gain, true
}

// pass fits a flight, leaving one sight out at most that strays from the others'.
func (v *view) pass(s *sights, from, fall geom.Vec3, noise float64) pass {
	f := passFit{noise: noise}
	f.add(s, from, fall)
	p, ok := f.solve(from)
	if !ok {
		return pass{}
	}
	speed := p.Vel.Norm()
	noise, bend := math.Hypot(noise, passStamp/v.slow*speed), math.Max(passBend, passDrag*speed*speed)
	f = passFit{noise: noise, bend: bend}
	f.add(s, from, fall)
	if p, ok = f.solve(from); !ok {
		return pass{}
	}
	p.noise = noise
	if s.n < 4 || p.cost < passOdd {
		return p
	}
	best, at := p, -1
	for i := range s.n {
		less := *s
		less.drop(i)
		f := passFit{noise: noise, bend: bend}
		f.add(&less, from, fall)
		if q, ok := f.solve(from); ok && q.cost < best.cost {
			best, at = q, i
			best.noise = noise
		}
	}
	if at < 0 || p.cost-best.cost < passOdd {
		return p
	}
	s.drop(at)
	return best
}

const passParams = 7 // x, a, q, y, b, r, c

// passFit are the normal equations of a flight.
type passFit struct {
	noise float64
	bend  float64 // m/s², sd of q and r; 0: passBend
	m     [passParams][passParams]float64
	rhs   [passParams]float64
	sum   float64
	n     int
}

func (f *passFit) add(s *sights, from, fall geom.Vec3) {
	w := 1 / (f.noise * f.noise)
	for i := range s.n {
		t := s.t[i]
		x := s.x[i].Sub(from)
		half := t * t / 2
		f.row([...]int{0, 1, 2}, [...]float64{1, t, half}, -t*x.X, x.X-fall.X*half, w)
		f.row([...]int{3, 4, 5}, [...]float64{1, t, half}, -t*x.Y, x.Y-fall.Y*half, w)
		f.n++
	}
}

// row takes in y = Σ g·p[at] + c·p[6], of weight w.
func (f *passFit) row(at [3]int, g [3]float64, c, y, w float64) {
	for i, a := range at {
		for j, b := range at {
			f.m[a][b] += w * g[i] * g[j]
		}
		f.m[a][passParams-1] += w * g[i] * c
		f.m[passParams-1][a] += w * g[i] * c
		f.rhs[a] += w * g[i] * y
	}
	f.m[passParams-1][passParams-1] += w * c * c
	f.rhs[passParams-1] += w * c * y
	f.sum += w * y * y
}

// solve returns the flight; ok is false when the sights do not tell it.
func (f *passFit) solve(from geom.Vec3) (p pass, ok bool) {
	bend := math.Max(f.bend, passBend)
	f.m[2][2] += 1 / (bend * bend)
	f.m[5][5] += 1 / (bend * bend)
	f.m[6][6] += 1 / (passDeep * passDeep)
	l := f.m
	for i := range passParams {
		for j := range i + 1 {
			s := l[i][j]
			for k := range j {
				s -= l[i][k] * l[j][k]
			}
			switch {
			case i != j:
				l[i][j] = s / l[j][j]
			case !(s > 0):
				return p, false
			default:
				l[i][i] = math.Sqrt(s)
			}
		}
	}
	back := func(y [passParams]float64) [passParams]float64 {
		for i := range passParams {
			for k := range i {
				y[i] -= l[i][k] * y[k]
			}
			y[i] /= l[i][i]
		}
		for i := passParams - 1; i >= 0; i-- {
			for k := i + 1; k < passParams; k++ {
				y[i] -= l[k][i] * y[k]
			}
			y[i] /= l[i][i]
		}
		return y
	}
	x := back(f.rhs)
	p.Pos = from.Add(geom.Vec3{X: x[0], Y: x[3]})
	p.Vel = geom.Vec3{X: x[1] - x[6]*x[0], Y: x[4] - x[6]*x[3]}
	p.cost = f.sum
	for i := range x {
		p.cost -= x[i] * f.rhs[i]
	}
	vx := back([passParams]float64{1: 1})
	vy := back([passParams]float64{4: 1})
	p.sd = math.Sqrt((vx[1] + vy[4]) / 2)
	p.deep = x[6]
	vc := back([passParams]float64{6: 1})
	p.deepSD = math.Sqrt(vc[6])
	p.n = f.n
	return p, true
}

// overHips reports whether a place is above the head: no ground is there.
func (v *view) overHips(k uint64, x geom.Vec3) bool {
	c, ok := v.center(k)
	return ok && x.Sub(c).Dot(v.up(k)) > overHead
}

// breakTold reports whether an image shows that a ball's flight broke after a place, and by
// how many standard deviations the two flights are better than one, what perspective does to it
// included. Of a ball seen in the world that is not asked.
func (v *view) breakTold(place uint64) (sure float64, yes bool) {
	if v.world {
		return ballSure, true
	}
	a, b := v.sightsOf(place, -1), v.sightsOf(place, +1)
	if a.n < 3 || b.n < 2 {
		return 0, false
	}
	noise := math.Max(ballBlur*v.scale, 0.003)
	fall := v.up(place).Scale(-9.81)
	from := a.x[0]
	in, out := v.pass(&a, from, fall, noise), v.pass(&b, from, fall, noise)
	gain := v.oneFlight(&a, &b, from, fall, math.Max(noise, in.noise), math.Max(noise, out.noise)) - in.cost - out.cost
	return math.Sqrt(math.Max(gain, 0)), gain >= toldGain
}

// oneFlight returns the cost of one flight through the sights before a break and those after, of
// whose noise each has its own.
func (v *view) oneFlight(a, b *sights, from, fall geom.Vec3, before, after float64) float64 {
	f := passFit{noise: before}
	f.add(a, from, fall)
	f.noise = after
	f.add(b, from, fall)
	p, _ := f.solve(from)
	return p.cost
}
