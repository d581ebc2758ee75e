package track

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// How a hand holds the racket stays much the same through a swing, so the grip centre
// keeps its place beside the wrist, in axes that turn with the racket. One
// camera shows two of its three coordinates in each frame, and others in others as
// the racket turns: together they tell all three, and with them how much further off
// or nearer the grip is than the wrist.
//
// A hand that grips is rigid with the racket, and the wrist's joint centre with the hand:
// the racket's own frame is the one to count in. Where the image does not show which way its face
// looks, or where the grip keeps its place better beside the forearm, that gives the second axis.

// grasp is one hand's hold: grip centre − wrist = a·u + b·f + c·u×f, with u the racket's
// axis and f its face's direction from left to right, or the forearm's from elbow to wrist.
type grasp struct {
	wrist  body.Point
	aside  func(t float64, at geom.Vec3) geom.Vec3 // f at t, unit, with the wrist at
	mean   geom.Vec3                               // a, b, c, metres
	draws  [liftDraws]geom.Vec3                    // errors of them, one for each draw of a lift
	share  float64                                 // of the anchors
	misfit float64                                 // squared, in sds, of sights and belief
}

// What is believed of a grasp before looking, metres: a fist's middle lies 0.05–0.08 m
// beyond the wrist's joint centre and within a hand's width of the grip centre; pose
// estimators put the wrist nearer or further (common practice, no source).
var (
	graspMean = geom.Vec3{X: 0.02, Y: 0.05}
	graspSD   = geom.Vec3{X: 0.05, Y: 0.04, Z: 0.03}
	// The same beside the face: which way a fist lies about the handle is a matter of the grip.
	faceGraspMean = geom.Vec3{X: 0.02}
	faceGraspSD   = geom.Vec3{X: 0.05, Y: 0.05, Z: 0.05}
)

const (
	graspNoise  = 0.02 // m, sd of one frame's place of the grip beside the wrist
	graspMemory = 0.06 // s, how long that error lasts
	graspLoose  = 0.02 // m, how much a hold gives: the wrist bends, the handle turns in the hand
	graspReach  = 0.6  // s from impact: further off the hand may hold otherwise
)

// axes are the three directions of a grasp at t, with the racket's axis along u.
func (g *grasp) axes(m *scene, t float64, u geom.Vec3) (at geom.Vec3, e [3]geom.Vec3) {
	at = m.paths[g.wrist].at(t)
	f := g.aside(t, at)
	return at, [3]geom.Vec3{u, f, u.Cross(f)}
}

// alongForearm is the direction from a wrist's elbow to it; zero where the elbow was not seen.
func (m *scene) alongForearm(wrist body.Point) func(t float64, at geom.Vec3) geom.Vec3 {
	elbow := m.elbowOf(wrist)
	return func(t float64, at geom.Vec3) geom.Vec3 {
		if elbow == nil {
			return geom.Vec3{}
		}
		return at.Sub(elbow(t)).Unit()
	}
}

// fitGrasp learns how a hand holds a racket whose axis runs along axis, beside aside,
// with what is believed of it.
func (m *scene) fitGrasp(wrist body.Point, axis func(t float64) geom.Vec3, aside func(t float64, at geom.Vec3) geom.Vec3, mean, spread geom.Vec3) *grasp {
	g := &grasp{wrist: wrist, aside: aside, share: 1}
	var a band
	a.reset(3, 2)
	sd := [3]float64{spread.X, spread.Y, spread.Z}
	prior := [3]float64{mean.X, mean.Y, mean.Z}
	var x [3]float64
	seen := 0.0 // Σ of squared sights, in sds
	for k, s := range sd {
		a.add(k, k, 1/(s*s))
		x[k] = prior[k] / (s * s)
		seen += prior[k] * prior[k] / (s * s)
	}
	butts := pixelsByTime(m.sights[body.RacketButt])
	tips := m.sights[body.RacketTip]
	weight := 1 / square(graspNoise)
	if step := medianStep(tips); step < graspMemory {
		weight *= step / graspMemory
	}
	impact := m.g.t[m.g.brk]
	for i := range tips {
		s := &tips[i]
		b, ok := butts[s.t]
		if s.kind != image || !ok || math.Abs(s.t-impact) > graspReach {
			continue
		}
		at, e := g.axes(m, s.t, axis(s.t))
		d := onRay(s, lerpPixel(b, s.p, gripFromButt/m.length), at).Sub(at)
		r := at.Sub(s.eye.Center()).Unit()
		e1 := anyPerpendicular(r)
		w := weight
		if n := d.Norm(); n > 0.2 {
			w *= square(0.2 / n) // a wild point, or another hand
		}
		for _, across := range [2]geom.Vec3{e1, r.Cross(e1)} {
			c := []float64{e[0].Dot(across), e[1].Dot(across), e[2].Dot(across)}
			a.row([]int{0, 1, 2}, c, w)
			y := d.Dot(across)
			for k := range c {
				x[k] += w * c[k] * y
			}
			seen += w * y * y
		}
	}
	if !a.factor() {
		return nil
	}
	pull := x
	a.solve(x[:])
	g.mean = geom.Vec3{X: x[0], Y: x[1], Z: x[2]}
	g.misfit = seen - pull[0]*x[0] - pull[1]*x[1] - pull[2]*x[2]
	rng := rand.New(rand.NewPCG(0x6772617370, uint64(wrist)))
	for k := range g.draws {
		z := [3]float64{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		a.backward(z[:])
		g.draws[k] = geom.Vec3{X: z[0], Y: z[1], Z: z[2]}
	}
	return g
}

// graspsOf fits the hold of each hand on the handle.
func (m *scene) graspsOf(axis func(t float64) geom.Vec3) (out []*grasp) {
	hand, far := m.holdingHand()
	if m.paths[hand] == nil {
		return nil
	}
	hands := []body.Point{hand}
	if m.paths[hand.Twin()] != nil && far < handsApart {
		hands = append(hands, hand.Twin())
	}
	face := m.faceSeen(axis)
	for _, p := range hands {
		out = append(out, m.holdsOf(p, axis, face)...)
	}
	for _, g := range out {
		g.share /= float64(len(hands))
	}
	return out
}

// holdsOf fits the hold of a hand beside its forearm and, where face is known, beside the
// racket's face: each with a share by how well it fits.
func (m *scene) holdsOf(p body.Point, axis func(t float64) geom.Vec3, face func(t float64, at geom.Vec3) geom.Vec3) []*grasp {
	arm := m.fitGrasp(p, axis, m.alongForearm(p), graspMean, graspSD)
	if face == nil || arm == nil {
		return hold(arm)
	}
	own := m.fitGrasp(p, axis, face, faceGraspMean, faceGraspSD)
	if own == nil {
		return hold(arm)
	}
	own.share = 1 / (1 + math.Exp((own.misfit-arm.misfit)/2))
	arm.share = 1 - own.share
	return []*grasp{arm, own}
}

func hold(g *grasp) []*grasp {
	if g == nil {
		return nil
	}
	return []*grasp{g}
}

// graspAnchors ties the grip of a racket seen by one camera to the depth of the hands that
// hold it.
func (m *scene) graspAnchors(axis func(t float64) geom.Vec3) (out []rodSight) {
	if !m.oneEye() {
		return nil
	}
	grasps := m.graspsOf(axis)
	if len(grasps) == 0 {
		return nil
	}
	f := m.rig.Eyes[0].Forward()
	rng := rand.New(rand.NewPCG(0x6772617370, 0))
	var loose [liftDraws]float64
	for k := range loose {
		loose[k] = graspLoose * rng.NormFloat64()
	}
	last := math.Inf(-1)
	out = make([]rodSight, 0, len(m.w.Frames))
	for i := range m.w.Frames {
		t := m.time(i)
		if t <= last {
			continue
		}
		last = t
		s := sight{kind: reach, t: t, dir: f, sd: gripDepth.total(), h: &gripDepth, w: 1}
		errs := m.room.zeros(liftDraws)
		copy(errs, loose[:])
		lifted := true
		u := axis(t)
		for _, g := range grasps {
			at, e := g.axes(m, t, u)
			c := geom.Vec3{X: e[0].Dot(f), Y: e[1].Dot(f), Z: e[2].Dot(f)}
			s.p.X += g.share * (at.Dot(f) + c.Dot(g.mean))
			hand := m.liftErrs(g.wrist, t)
			if lifted = lifted && hand != nil; !lifted {
				continue
			}
			for k := range errs {
				errs[k] += g.share * (hand[k] + c.Dot(g.draws[k]))
			}
		}
		if lifted {
			s.errs, s.sd = errs, liftFollow
		}
		out = append(out, rodSight{s, 0})
	}
	return out
}
