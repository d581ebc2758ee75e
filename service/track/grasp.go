package track

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// How a hand holds the racket stays much the same through a swing, so the grip centre
// keeps its place beside the wrist, in axes that turn with racket and forearm. One
// camera shows two of its three coordinates in each frame, and others in others as
// the racket turns: together they tell all three, and with them how much further off
// or nearer the grip is than the wrist.

// grasp is one hand's hold: grip centre − wrist = a·u + b·f + c·u×f, with u the racket's
// axis and f the forearm's direction from elbow to wrist.
type grasp struct {
	wrist body.Point
	mean  geom.Vec3            // a, b, c, metres
	draws [liftDraws]geom.Vec3 // errors of them, one for each draw of a lift
}

// What is believed of a grasp before looking, metres: a fist's middle lies 0.05–0.08 m
// beyond the wrist's joint centre and within a hand's width of the grip centre; pose
// estimators put the wrist nearer or further (common practice, no source).
var (
	graspMean = geom.Vec3{X: 0.02, Y: 0.05}
	graspSD   = geom.Vec3{X: 0.05, Y: 0.04, Z: 0.03}
)

const (
	graspNoise  = 0.02 // m, sd of one frame's place of the grip beside the wrist
	graspMemory = 0.06 // s, how long that error lasts
	graspLoose  = 0.02 // m, how much a hold gives: the wrist bends, the handle turns in the hand
	graspReach  = 0.6  // s from impact: further off the hand may hold otherwise
)

// graspAxes are the three directions of a grasp at t.
func (m *scene) graspAxes(wrist body.Point, t float64, u geom.Vec3) (at geom.Vec3, e [3]geom.Vec3) {
	at = m.paths[wrist].at(t)
	f := geom.Vec3{}
	if elbow := m.elbowOf(wrist); elbow != nil {
		f = at.Sub(elbow(t)).Unit()
	}
	return at, [3]geom.Vec3{u, f, u.Cross(f)}
}

// fitGrasp learns how a hand holds a racket whose axis runs along axis.
func (m *scene) fitGrasp(wrist body.Point, axis func(t float64) geom.Vec3) *grasp {
	var a band
	a.reset(3, 2)
	sd := [3]float64{graspSD.X, graspSD.Y, graspSD.Z}
	prior := [3]float64{graspMean.X, graspMean.Y, graspMean.Z}
	var x [3]float64
	for k, s := range sd {
		a.add(k, k, 1/(s*s))
		x[k] = prior[k] / (s * s)
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
		at, e := m.graspAxes(wrist, s.t, axis(s.t))
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
			for k := range c {
				x[k] += w * c[k] * d.Dot(across)
			}
		}
	}
	if !a.factor() {
		return nil
	}
	a.solve(x[:])
	g := &grasp{wrist: wrist, mean: geom.Vec3{X: x[0], Y: x[1], Z: x[2]}}
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
	for _, p := range hands {
		if g := m.fitGrasp(p, axis); g != nil {
			out = append(out, g)
		}
	}
	return out
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
	share := 1 / float64(len(grasps))
	last := math.Inf(-1)
	for i := range m.w.Frames {
		t := m.time(i)
		if t <= last {
			continue
		}
		last = t
		s := sight{kind: reach, t: t, dir: f, sd: gripDepth.total(), h: &gripDepth, w: 1}
		errs := make([]float64, liftDraws)
		copy(errs, loose[:])
		lifted := true
		u := axis(t)
		for _, g := range grasps {
			at, e := m.graspAxes(g.wrist, t, u)
			c := geom.Vec3{X: e[0].Dot(f), Y: e[1].Dot(f), Z: e[2].Dot(f)}
			s.p.X += share * (at.Dot(f) + c.Dot(g.mean))
			hand := m.liftErrs(g.wrist, t)
			if lifted = lifted && hand != nil; !lifted {
				continue
			}
			for k := range errs {
				errs[k] += share * (hand[k] + c.Dot(g.draws[k]))
			}
		}
		if lifted {
			s.errs, s.sd = errs, liftFollow
		}
		out = append(out, rodSight{s, 0})
	}
	return out
}
