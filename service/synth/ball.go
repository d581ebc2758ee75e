package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// Ball constants: literature.md G24, G26, G31.
const (
	ballRadius = 0.0333 // m
	gravity    = 9.80665
	dragPerM   = 0.0186 // 1/m: ρ Cd A / 2m
	bounceUp   = 0.75   // ratio of vertical speeds at a bounce
	bounceKeep = 0.68   // ratio of horizontal speeds at a bounce (about half the speed is lost on the whole way; from memory)
)

// flight is one stretch of a ball's life: free, sampled each millisecond, or in a hand.
type flight struct {
	from, to float64
	pos, vel []geom.Vec3 // each millisecond from `from`; nil while held
	hand     body.Point  // held by this hand when pos is nil
	slip     geom.Vec3   // velocity that the ball has beyond the hand's at release
	ease     float64     // over this long before release the slip builds, s
}

const ballTick = 0.001

func fall(v geom.Vec3) geom.Vec3 {
	a := v.Scale(-dragPerM * v.Norm())
	a.Y -= gravity
	return a
}

// fly integrates a free ball from p, v over n ticks of h (negative: back in time)
// by the midpoint rule; it stops at the ground.
func fly(p, v geom.Vec3, h float64, n int) (ps, vs []geom.Vec3) {
	for range n + 1 {
		ps, vs = append(ps, p), append(vs, v)
		mid := v.Add(fall(v).Scale(h / 2))
		p = p.Add(mid.Scale(h))
		v = v.Add(fall(mid).Scale(h))
		if p.Y < ballRadius {
			break
		}
	}
	return ps, vs
}

func reversed(v []geom.Vec3) []geom.Vec3 {
	r := make([]geom.Vec3, len(v))
	for i := range v {
		r[len(v)-1-i] = v[i]
	}
	return r
}

// incoming is the flight that ends at p with velocity v at tc, with one bounce
// before it if the path meets the ground.
func incoming(tc float64, p, v geom.Vec3, bounces bool) []flight {
	ps, vs := fly(p, v, -ballTick, 1300)
	last := flight{from: tc - ballTick*float64(len(ps)-1), to: tc, pos: reversed(ps), vel: reversed(vs)}
	if !bounces || len(ps) > 1300 {
		return []flight{last}
	}
	u := last.vel[0]
	u = geom.Vec3{X: u.X / bounceKeep, Y: -u.Y / bounceUp, Z: u.Z / bounceKeep}
	ps, vs = fly(last.pos[0], u, -ballTick, 700)
	return []flight{{from: last.from - ballTick*float64(len(ps)-1), to: last.from, pos: reversed(ps), vel: reversed(vs)}, last}
}

// outgoing is the flight after tc: first the dwell on the strings, over which
// the velocity turns evenly from vIn to vOut, then free until it meets the ground.
func outgoing(tc float64, p, vIn, vOut geom.Vec3, dwell float64) []flight {
	var fs []flight
	if n := int(dwell / ballTick); n > 0 {
		f := flight{from: tc, to: tc + ballTick*float64(n)}
		for i := range n + 1 {
			v := vIn.Lerp(vOut, float64(i)/float64(n))
			f.pos, f.vel = append(f.pos, p), append(f.vel, v)
			p = p.Add(v.Add(vIn.Lerp(vOut, float64(i+1)/float64(n))).Scale(ballTick / 2))
		}
		p, tc = f.pos[n], f.to
		fs = append(fs, f)
	}
	ps, vs := fly(p, vOut, ballTick, 1500)
	return append(fs, flight{from: tc, to: tc + ballTick*float64(len(ps)-1), pos: ps, vel: vs})
}

// at is the ball's place in a free flight: cubic Hermite between ticks.
func (f *flight) at(t float64) geom.Vec3 {
	x := (t - f.from) / ballTick
	i := max(0, min(int(x), len(f.pos)-2))
	if len(f.pos) < 2 {
		return f.pos[0]
	}
	x -= float64(i)
	a, b := f.pos[i], f.pos[i+1]
	va, vb := f.vel[i].Scale(ballTick), f.vel[i+1].Scale(ballTick)
	h := x * x * (3 - 2*x)
	return a.Lerp(b, h).Add(va.Scale(x * (1 - x) * (1 - x))).Add(vb.Scale(-x * x * (1 - x)))
}

// ball returns the place of the ball at t, before mirroring.
func (m *Motion) ball(t float64) (geom.Vec3, bool) {
	for i := range m.balls {
		f := &m.balls[i]
		if t < f.from || t > f.to {
			continue
		}
		if f.pos == nil {
			return m.held(f, t), true
		}
		return f.at(t), true
	}
	return geom.Vec3{}, false
}

// held is the place of a ball in a hand: 3 cm beyond the knuckles, rolling off the
// palm in the last moments before release so that velocities join:
// slip · e · x³/3 with x the eased share of the last e seconds.
func (m *Motion) held(f *flight, t float64) geom.Vec3 {
	var p Pose
	m.body(t, &p)
	wrist := p.P[f.hand-body.LeftHand+body.LeftWrist]
	at := p.P[f.hand].Add(p.P[f.hand].Sub(wrist).Unit().Scale(0.03))
	if f.ease > 0 && t > f.to-f.ease {
		x := (t - (f.to - f.ease)) / f.ease
		at = at.Add(f.slip.Scale(f.ease * x * x * x / 3))
	}
	return at
}

// meet builds the ball's whole life around a groundstroke, volley or overhead.
func (m *Motion) meet(k *Struck, d draw, rise float64) {
	center, v, n := m.headAt(k.Contact)
	p := onStrings(center, n, d)
	k.In = arrival(k, d)
	k.Out = struck(k.In, v, n, d)
	bounces := !k.Stroke.Volley() && k.Stroke != body.Overhead
	m.balls = append(m.balls, incoming(k.Contact, p, k.In, bounces)...)
	m.balls = append(m.balls, outgoing(k.Contact, p, k.In, k.Out, max(rise, 0.002))...)
	k.Ball = true
}

// headAt returns the head centre, its velocity just before contact and the face normal
// on the side of the ball.
func (m *Motion) headAt(tc float64) (center, v, n geom.Vec3) {
	var p Pose
	m.body(tc, &p)
	center = p.P[body.RacketTip].Lerp(p.P[body.RacketThroat], 0.5)
	v = velocity(m, tc, -1, body.RacketTip).Lerp(velocity(m, tc, -1, body.RacketThroat), 0.5)
	u := p.P[body.RacketTip].Sub(p.P[body.RacketButt]).Unit()
	n = p.P[body.RacketRight].Sub(p.P[body.RacketLeft]).Cross(u).Unit().Scale(-1)
	if n.Dot(v) < 0 {
		n = n.Scale(-1)
	}
	return center, v, n
}

// onStrings is where on the string bed the ball is met: near the head centre.
func onStrings(center, n geom.Vec3, d draw) geom.Vec3 {
	side := n.Cross(upward).Unit()
	return center.Add(n.Scale(ballRadius)).
		Add(side.Scale(d.about(0, 0.02))).Add(n.Cross(side).Scale(d.about(0, 0.015)))
}

// arrival draws the ball's velocity just before impact.
func arrival(k *Struck, d draw) geom.Vec3 {
	speed, climb := d.in(8, 17), d.in(-14, 8)*deg
	switch {
	case k.Stroke == body.Overhead:
		speed, climb = d.in(8, 12), -d.in(40, 65)*deg
	case k.Stroke.Volley():
		speed, climb = d.in(10, 22), d.in(-12, 2)*deg
	}
	dir := level(k.Heading + math.Pi + d.about(0, 8)*deg)
	return tilted(dir, climb).Scale(speed)
}

// struck is the ball's velocity after impact (literature.md G28, G29): along a
// direction between the racket's path and the face normal, as fast as apparent restitution says.
func struck(in, v, n geom.Vec3, d draw) geom.Vec3 {
	e := d.in(0.38, 0.46)
	dir := v.Unit().Lerp(n, 0.6).Unit()
	dir.Y = max(dir.Y*0.7, -0.2)
	dir = dir.Unit()
	return dir.Scale(max(2, e*max(0, -in.Dot(dir))+(1+e)*v.Dot(dir)))
}
