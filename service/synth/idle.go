package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// What people do between strokes, none of it a stroke. Each starts and ends in the
// waiting position of the stroke to come.

// stroll walks some way and comes back, the racket hanging.
func (r *routine) stroll(next body.Stroke) {
	m, d := r.m, r.d
	home := m.pelvisGoal()
	away := level(d.in(0, 2*math.Pi)).Scale(d.in(0.8, 2.5))
	r.hang()
	r.walk(home.Add(away), d.about(0, 60)*deg, next)
	r.now += d.in(0.2, 1)
	r.walk(home, 0, next)
	r.back(next, 0.6)
}

// walkTo moves the player to a place in the waiting position.
func (r *routine) walkTo(place geom.Vec3, next body.Stroke) {
	if place.Sub(r.m.pelvisGoal()).Norm() > 0.4 {
		r.walk(place, 0, next)
		r.back(next, 0.5)
	}
}

func (m *Motion) pelvisGoal() geom.Vec3 {
	return geom.Vec3{X: m.joints[pelvisX].goal, Z: m.joints[pelvisZ].goal}
}

// walk carries the body to a place at about 1.2 m/s, turning by turn on the way.
func (r *routine) walk(to geom.Vec3, turn float64, next body.Stroke) {
	m, d := r.m, r.d
	v := to.Sub(m.pelvisGoal())
	dist := v.Norm()
	t0, span := r.now, max(0.7, dist/d.in(0.9, 1.5))
	home := m.joints[heading].goal
	parts := max(1, int(dist/0.5))
	for i := range parts { // overlapping pushes make an even pace
		a := t0 + span*float64(i)/float64(parts+1)
		m.shift(a, a+2*span/float64(parts+1), v.Scale(1/float64(parts)))
	}
	m.joints[heading].to(t0, t0+0.5*span, home+turn, 0)
	m.joints[heading].to(t0+0.5*span, t0+span, home, 0)
	m.regroup(r.rest(next), t0+0.05, t0+span+0.15, 2*int(math.Ceil(dist/1.0))+2, d)
	r.now = t0 + span + 0.2
}

// hang lets the racket arm hang, the free hand off the racket.
func (r *routine) hang() {
	m, d, t := r.m, r.d, r.now
	arm := m.Build.arm()
	m.elbowBack(t, t+0.5)
	m.joints[offPoleForward].to(t, t+0.5, -0.9, 0)
	m.joints[offPoleUp].to(t, t+0.5, -0.3, 0)
	m.joints[hold].to(t, t+0.4, 0, 0)
	m.joints[plane].to(t, t+0.5, 0, 0)
	m.joints[armAz].to(t, t+0.6, m.turned(d.in(10, 50)*deg), 0)
	m.joints[armEl].to(t, t+0.6, -d.in(70, 82)*deg, 0)
	m.joints[armReach].to(t, t+0.6, d.in(0.9, 0.97)*arm, 0)
	m.joints[racketAz].to(t, t+0.6, d.about(0, 20)*deg, 0)
	m.joints[racketEl].to(t, t+0.6, d.in(-50, -10)*deg, 0)
	m.joints[offEl].to(t, t+0.6, -d.in(70, 80)*deg, 0)
	m.joints[offReach].to(t, t+0.6, 0.92*arm, 0)
}

// turned is an azimuth of the arm, whole turns from where it now is.
func (m *Motion) turned(az float64) float64 { return az + wholeTurns(m.joints[armAz].goal-az) }

// back takes the waiting position again.
func (r *routine) back(next body.Stroke, span float64) {
	r.m.settle(r.rest(next), r.now, r.now+span, r.d)
	r.now += span + 0.05
}

// halfSwing swings slowly through the air: half a stroke at a third of the speed.
func (r *routine) halfSwing(next body.Stroke) {
	if next.OverheadMotion() {
		r.stretch(next)
		return
	}
	d := r.d
	kind := []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.ForehandVolley}[d.IntN(3)]
	s := Spec{Stroke: kind, Level: body.Beginner, Stature: r.build.Stature, Knobs: Knobs{Speed: d.in(0.3, 0.45)}}
	seed := d.Uint64()
	v := newStroke(s, newDraw(seed, streamMotion))
	if *v.wanted() > 5 {
		*v.wanted() = d.in(3, 5)
	}
	v.miss()
	solve(v, r.fresh(kind), seed, 5)
	tc := r.now + v.lead()
	v.apply(r.m, newDraw(seed, streamMotion+20), tc)
	r.recover(v, tc, next)
}

// stretch lifts both arms, leans over, and comes back.
func (r *routine) stretch(next body.Stroke) {
	m, d, t := r.m, r.d, r.now
	arm := m.Build.arm()
	up := d.in(0.7, 1.1)
	m.joints[hold].to(t, t+0.4, 0, 0)
	m.joints[armEl].to(t, t+up, d.in(45, 80)*deg, 0)
	m.joints[armReach].to(t, t+up, 0.95*arm, 0)
	m.joints[offEl].to(t, t+up, d.in(45, 80)*deg, 0)
	m.joints[offReach].to(t, t+up, 0.93*arm, 0)
	lean := d.about(0, 14) * deg
	m.joints[leanSide].to(t+up, t+up+0.6, lean, 0)
	m.joints[leanSide].to(t+up+0.9, t+up+1.6, -0.8*lean, 0)
	turn := d.about(0, 25) * deg
	m.joints[shoulderYaw].to(t+up, t+up+0.9, m.joints[shoulderYaw].goal+turn, 0)
	r.now = t + up + 1.7
	r.back(next, d.in(0.7, 1.1))
}

// pickUp bends down for a ball on the ground and puts it away.
func (r *routine) pickUp(next body.Stroke) {
	m, d, t := r.m, r.d, r.now
	arm := m.Build.arm()
	down := d.in(0.7, 1.0)
	rest := m.joints[pelvisDrop].goal
	m.joints[hold].to(t, t+0.3, 0, 0)
	m.joints[pelvisDrop].to(t, t+down, rest+d.in(0.10, 0.17)*m.Build.Stature, 0)
	m.joints[leanForward].to(t, t+down, d.in(50, 62)*deg, 0)
	m.joints[offEl].to(t, t+down, -80*deg, 0)
	m.joints[offReach].to(t, t+down, 0.94*arm, 0)
	low := t + down + d.in(0.1, 0.3)
	m.joints[pelvisDrop].to(low, low+0.7, rest, 0)
	m.joints[leanForward].to(low, low+0.8, 8*deg, 0)
	r.lieThen(t, low)
	r.now = low + 0.8
	r.back(next, 0.6)
}

// lieThen shows a ball on the ground under the left hand until it is taken at low.
func (r *routine) lieThen(t, low float64) {
	var p Pose
	r.m.body(low, &p)
	at := p.P[body.LeftHand].Flat().Add(upward.Scale(ballRadius))
	f := flight{from: t - 0.5, to: low}
	for n := int((low - f.from) / ballTick); n >= 0; n-- {
		f.pos, f.vel = append(f.pos, at), append(f.vel, geom.Vec3{})
	}
	r.m.balls = append(r.m.balls, f)
}

// bounce bounces a ball a few times from the left hand.
func (r *routine) bounce(next body.Stroke) {
	m, d, t := r.m, r.d, r.now
	arm := m.Build.arm()
	m.joints[hold].to(t, t+0.4, 0, 0)
	m.joints[offEl].to(t, t+0.5, -d.in(48, 58)*deg, 0)
	m.joints[offReach].to(t, t+0.5, d.in(0.72, 0.82)*arm, 0)
	m.joints[leanForward].to(t, t+0.5, d.in(12, 24)*deg, 0)
	m.joints[headPitch].to(t, t+0.5, -35*deg, 0)
	at := t + 0.6
	n := 1 + d.IntN(5)
	tops := make([]float64, n+1)
	for i := range n { // the hand pushes down and comes back up for the catch
		gap := d.in(0.62, 0.72)
		m.joints[offEl].bump(at-0.12, at+0.35, -d.in(6, 10)*deg)
		tops[i] = at
		at += gap
	}
	for i := range n {
		r.drop(tops[i])
	}
	r.now = at + 0.1
	r.back(next, 0.6)
}

// drop is one bounce: let go at t, back at the height it left, one elastic loss at the
// ground made up by the push.
func (r *routine) drop(t float64) {
	h := flight{from: -1e9, to: t, hand: body.LeftHand}
	p := r.m.held(&h, t)
	fall := p.Y - ballRadius
	// v₀² = v_g² − 2 g h with (e v_g)² = 2 g h: it comes back to where it left.
	vg := math.Sqrt(2*gravity*fall) / bounceUp
	v0 := math.Sqrt(max(0, vg*vg-2*gravity*fall))
	down := (vg - v0) / gravity
	up := bounceUp * vg / gravity
	f := flight{from: t, to: t + down + up}
	for n := 0; float64(n)*ballTick <= down+up+2*ballTick; n++ {
		x := float64(n) * ballTick
		y, v := p.Y-v0*x-gravity*x*x/2, -v0-gravity*x
		if x > down {
			z := x - down
			y, v = ballRadius+bounceUp*vg*z-gravity*z*z/2, bounceUp*vg-gravity*z
		}
		f.pos = append(f.pos, geom.Vec3{X: p.X, Y: y, Z: p.Z})
		f.vel = append(f.vel, geom.Vec3{Y: v})
	}
	r.m.balls = append(r.m.balls, f)
}
