package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// fineStep is the truth's time step, s: 2 kHz.
const fineStep = 0.0005

// fine is one swing sampled finely: sample hit is contact; positions join there,
// velocities are one-sided (before up to hit, after from hit+1 on, where the instant
// of contact stands a second time). Axes: X toward the net (or what stands for it),
// Y up, Z right, the player right-handed.
type fine struct {
	t    []float64 // motion seconds
	hit  int
	pos  [body.NumPoints][]geom.Vec3
	side float64 // +1 hit on the right
	m    *Motion
	k    *Struck
	hair hair

	x, h                    geom.Vec3
	tip, grip, center, u    []geom.Vec3
	tipV, gripV             []geom.Vec3
	midHip, midShoulder     []geom.Vec3
	shoulderTurn, hipTurn   []float64 // radians, unwrapped
	shoulderRate, hipRate   []float64
	hitWrist, hitElbow, hSh body.Point // hitting arm
	oWrist, oElbow, oSh     body.Point
	front, back             int
}

// hair is a small change of the definitions or of the motion, to see which
// answers stand on a knife's edge.
type hair struct {
	threshold float64 // factor on every threshold of the definitions
	shake     float64 // size of a smooth shake of every point, m
	seed      uint64
}

// sample takes the motion from t0 to t1 around the stroke's contact.
func sample(m *Motion, k *Struck, t0, t1 float64) *fine {
	f := &fine{m: m, k: k, side: k.Stroke.Side(), hair: hair{threshold: 1}}
	before, after := int((k.Contact-t0)/fineStep), int((t1-k.Contact)/fineStep)
	f.hit = before
	w := m.window(t0-0.01, t1+0.01)
	add := func(t float64) {
		var p Pose
		w.body(t, &p)
		f.t = append(f.t, t)
		for i := range f.pos {
			f.pos[i] = append(f.pos[i], p.P[i])
		}
	}
	for i := -before; i <= after; i++ {
		add(k.Contact + float64(i)*fineStep)
		if i == 0 {
			add(k.Contact)
		}
	}
	return f
}

// shaken returns the same swing with every point moved a little, smoothly:
// sinusoids of 2 to 6 Hz.
func (f *fine) shaken(h hair) *fine {
	if h.shake == 0 {
		g := *f
		g.hair = h
		return &g
	}
	g := &fine{t: f.t, hit: f.hit, side: f.side, m: f.m, k: f.k, hair: h}
	d := newDraw(h.seed, streamNoise)
	var by [3][]float64
	for i := range f.pos {
		for j := range by {
			by[j] = wave{h.shake, d.in(12, 38), d.in(0, 6.28)}.along(f.t, by[j])
		}
		g.pos[i] = make([]geom.Vec3, len(f.t))
		for n, p := range f.pos[i] {
			g.pos[i][n] = p.Add(geom.Vec3{X: by[0][n], Y: by[1][n], Z: by[2][n]})
		}
	}
	return g
}

// derive fills everything that the definitions read, for the direction x that stands
// for the net's.
func (f *fine) derive(x geom.Vec3) {
	if x = x.Flat().Unit(); x == f.x {
		return // as it is
	}
	f.x = x
	f.h = f.x.Cross(upward).Scale(f.side)
	n := len(f.t)
	for _, s := range []*[]geom.Vec3{&f.tip, &f.grip, &f.center, &f.u, &f.midHip, &f.midShoulder} {
		*s = make([]geom.Vec3, n)
	}
	f.shoulderTurn, f.hipTurn = make([]float64, n), make([]float64, n)
	for i := range n {
		tip, butt := f.pos[body.RacketTip][i], f.pos[body.RacketButt][i]
		f.tip[i], f.u[i] = tip, tip.Sub(butt).Unit()
		f.grip[i] = butt.Add(f.u[i].Scale(0.10))
		f.center[i] = tip.Lerp(f.pos[body.RacketThroat][i], 0.5)
		f.midHip[i] = f.pos[body.LeftHip][i].Lerp(f.pos[body.RightHip][i], 0.5)
		f.midShoulder[i] = f.pos[body.LeftShoulder][i].Lerp(f.pos[body.RightShoulder][i], 0.5)
		f.shoulderTurn[i] = f.facing(f.pos[body.RightShoulder][i].Sub(f.pos[body.LeftShoulder][i]))
		f.hipTurn[i] = f.facing(f.pos[body.RightHip][i].Sub(f.pos[body.LeftHip][i]))
	}
	unwrap(f.shoulderTurn, f.hit)
	unwrap(f.hipTurn, f.hit)
	f.tipV, f.gripV = f.rates(f.tip), f.rates(f.grip)
	f.shoulderRate, f.hipRate = f.slopes(f.shoulderTurn), f.slopes(f.hipTurn)
	f.limbs()
}

// facing is the turn, toward h from X, of the normal of a left-to-right line:
// the normal that points out of the chest is up × line.
func (f *fine) facing(line geom.Vec3) float64 {
	c := upward.Cross(line)
	return math.Atan2(c.Dot(f.h), c.Dot(f.x))
}

// unwrap removes whole turns, working outward from sample at.
func unwrap(a []float64, at int) {
	fix := func(i, from int) { a[i] -= 2 * math.Pi * math.Round((a[i]-a[from])/(2*math.Pi)) }
	for i := at + 1; i < len(a); i++ {
		fix(i, i-1)
	}
	for i := at - 1; i >= 0; i-- {
		fix(i, i+1)
	}
}

// limbs says which arm hits and which foot is in front.
func (f *fine) limbs() {
	f.hitWrist, f.hitElbow, f.hSh = body.RightWrist, body.RightElbow, body.RightShoulder
	f.oWrist, f.oElbow, f.oSh = body.LeftWrist, body.LeftElbow, body.LeftShoulder
	if f.k.Stroke == body.TwoHandedBackhand {
		f.hitWrist, f.hitElbow, f.hSh, f.oWrist, f.oElbow, f.oSh = f.oWrist, f.oElbow, f.oSh, f.hitWrist, f.hitElbow, f.hSh
	}
	gap := f.pos[body.LeftAnkle][f.hit].Sub(f.pos[body.RightAnkle][f.hit]).Dot(f.x)
	f.front, f.back = left, right
	if gap < -0.06 || (math.Abs(gap) < 0.06 && f.side < 0) {
		f.front, f.back = right, left
	}
}

// rates differentiates a course, one-sided at contact.
func (f *fine) rates(p []geom.Vec3) []geom.Vec3 {
	v := make([]geom.Vec3, len(p))
	for _, part := range [][2]int{{0, f.hit}, {f.hit + 1, len(p) - 1}} {
		a, b := part[0], part[1]
		for i := a; i <= b; i++ {
			switch {
			case b-a < 2:
			case i == a:
				v[i] = p[i].Scale(-3).Add(p[i+1].Scale(4)).Sub(p[i+2]).Scale(0.5 / fineStep)
			case i == b:
				v[i] = p[i].Scale(3).Sub(p[i-1].Scale(4)).Add(p[i-2]).Scale(0.5 / fineStep)
			default:
				v[i] = p[i+1].Sub(p[i-1]).Scale(0.5 / fineStep)
			}
		}
	}
	return v
}

func (f *fine) slopes(a []float64) []float64 {
	p := make([]geom.Vec3, len(a))
	for i := range a {
		p[i].X = a[i]
	}
	s := make([]float64, len(a))
	for i, v := range f.rates(p) {
		s[i] = v.X
	}
	return s
}

// at is the sample nearest to time t; sample hit+1 repeats the instant of hit.
func (f *fine) at(t float64) int {
	i := f.hit + int(math.Round((t-f.t[f.hit])/fineStep))
	if i > f.hit {
		i++
	}
	return max(0, min(len(f.t)-1, i))
}

// flexion is 0 for a straight limb.
func flexion(a, b, c geom.Vec3) float64 { return geom.Between(b.Sub(a), c.Sub(b)).Degrees() }

func (f *fine) knee(foot, i int) float64 {
	if foot == left {
		return flexion(f.pos[body.LeftHip][i], f.pos[body.LeftKnee][i], f.pos[body.LeftAnkle][i])
	}
	return flexion(f.pos[body.RightHip][i], f.pos[body.RightKnee][i], f.pos[body.RightAnkle][i])
}

// lag is λ in degrees.
func (f *fine) lag(i int) float64 { return geom.Between(f.u[i], f.gripV[i]).Degrees() - 90 }
