package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// stanceAt is the body at one node as the beliefs about posture read it.
type stanceAt struct {
	p       [liftJoints]geom.Vec3
	up      geom.Vec3
	floor   float64
	stature float64
	fast    [2]float64
	slope   [2]float64 // the ground's correction: height, slope
	z0      float64    // the distance about which the ground's slope turns
	net     geom.Vec3  // the horizontal direction of the net; zero when not known
}

// belief is one residual of posture, in units of its sd.
type belief struct {
	joints []body.Point
	of     func(s *stanceAt) float64
	params bool // the ground's height and slope take part
	foot   int
}

func (s *stanceAt) forward(l, r body.Point) geom.Vec3 {
	n := s.up.Cross(s.p[r].Sub(s.p[l]))
	return n.Sub(s.up.Scale(n.Dot(s.up))).Unit()
}

func (s *stanceAt) middle(p body.Point) geom.Vec3 { return s.p[p].Lerp(s.p[p.Twin()], 0.5) }

// twist is how far the chest is turned against the belly beside what is usual, in
// sds. In a take-back the chest turns on where the hips end: the separation is some
// 0.4 of the hips' turn (bands of trunk and hip turn in literature.md).
func (s *stanceAt) twist(belly, chest geom.Vec3) float64 {
	usual := 0.0
	if s.net != (geom.Vec3{}) {
		usual = twistShare * clamp(s.turnBetween(s.net, belly), -1.2, 1.2)
	}
	return (s.turnBetween(belly, chest) - usual) / twistSD
}

const (
	twistShare = 0.4
	twistSD    = 0.6 // rad
)

// turnBetween is the angle from one horizontal direction to another about up.
func (s *stanceAt) turnBetween(a, b geom.Vec3) float64 {
	return math.Atan2(s.up.Dot(a.Cross(b)), a.Dot(b))
}

const (
	lsh, rsh = body.LeftShoulder, body.RightShoulder
	lhp, rhp = body.LeftHip, body.RightHip
)

// beliefs about how a player holds himself, with how far strokes stray from
// them. Sizes are shares of stature or radians; set by looking at recorded strokes
// and common sense (no source). All are weak and robust.
var beliefs = buildBeliefs()

func buildBeliefs() (out []belief) {
	trunk := []body.Point{lsh, rsh, lhp, rhp}
	add := func(joints []body.Point, of func(s *stanceAt) float64) {
		out = append(out, belief{joints: joints, of: of, foot: -1})
	}
	add(trunk, func(s *stanceAt) float64 { // bent a little forward
		v := s.middle(lsh).Sub(s.middle(lhp)).Unit()
		n := s.forward(lsh, rsh).Add(s.forward(lhp, rhp)).Unit()
		return (v.Dot(n) - 0.13) / 0.17
	})
	add(trunk, func(s *stanceAt) float64 { // not sideways
		v := s.middle(lsh).Sub(s.middle(lhp)).Unit()
		n := s.forward(lsh, rsh).Add(s.forward(lhp, rhp)).Unit()
		return v.Dot(n.Cross(s.up)) / 0.15
	})
	add([]body.Point{lhp, rhp}, func(s *stanceAt) float64 { // hips level
		d := s.p[rhp].Sub(s.p[lhp])
		return d.Unit().Dot(s.up) / 0.1
	})
	add([]body.Point{lsh, rsh}, func(s *stanceAt) float64 { // shoulders nearly
		d := s.p[rsh].Sub(s.p[lsh])
		return d.Unit().Dot(s.up) / 0.22
	})
	add(trunk, func(s *stanceAt) float64 { // the chest turns against the belly only so far
		return s.twist(s.forward(lhp, rhp), s.forward(lsh, rsh))
	})
	head := []body.Point{body.Nose, body.LeftEar, body.RightEar, lsh, rsh}
	add(head, func(s *stanceAt) float64 {
		look := s.forward(body.LeftEar, body.RightEar)
		return s.turnBetween(s.forward(lsh, rsh), look) / 0.8
	})
	add(head, func(s *stanceAt) float64 { // head before and over the shoulders
		d := s.middle(body.LeftEar).Sub(s.middle(lsh))
		return (d.Dot(s.forward(lsh, rsh))/s.stature - 0.015) / 0.03
	})
	ears := []body.Point{body.Nose, body.LeftEar, body.RightEar}
	add(ears, func(s *stanceAt) float64 { // the nose lies before the ears
		d := s.p[body.Nose].Sub(s.middle(body.LeftEar))
		return (d.Dot(s.forward(body.LeftEar, body.RightEar))/s.stature - 0.06) / 0.012
	})
	add(ears, func(s *stanceAt) float64 { // and on the midline
		d := s.p[body.Nose].Sub(s.middle(body.LeftEar))
		e := s.p[body.RightEar].Sub(s.p[body.LeftEar]).Unit()
		return d.Dot(e) / s.stature / 0.008
	})
	add(ears, func(s *stanceAt) float64 {
		return s.p[body.RightEar].Sub(s.p[body.LeftEar]).Unit().Dot(s.up) / 0.2
	})
	for _, left := range [2]bool{true, false} {
		side := func(p body.Point) body.Point {
			if left {
				return p
			}
			return p.Twin()
		}
		sh, el, wr := side(body.LeftShoulder), side(body.LeftElbow), side(body.LeftWrist)
		hp, kn, an := side(body.LeftHip), side(body.LeftKnee), side(body.LeftAnkle)
		add([]body.Point{lhp, rhp, kn, an}, func(s *stanceAt) float64 { // knees bend to the front
			d := s.p[kn].Sub(s.p[hp].Lerp(s.p[an], 0.5))
			return (d.Dot(s.forward(lhp, rhp))/s.stature - 0.085) / 0.035
		})
		add([]body.Point{lhp, rhp, kn, an}, func(s *stanceAt) float64 { // and not sideways
			d := s.p[kn].Sub(s.p[hp].Lerp(s.p[an], 0.5))
			return d.Dot(s.p[rhp].Sub(s.p[lhp]).Unit()) / s.stature / 0.035
		})
		add([]body.Point{lsh, rsh, wr}, func(s *stanceAt) float64 { // hands before the chest
			d := s.p[wr].Sub(s.middle(lsh))
			return (d.Dot(s.forward(lsh, rsh))/s.stature - 0.15) / 0.095
		})
		add([]body.Point{lsh, rsh, el, wr}, func(s *stanceAt) float64 { // elbows behind the line of the arm
			d := s.p[el].Sub(s.p[sh].Lerp(s.p[wr], 0.5))
			return (d.Dot(s.forward(lsh, rsh))/s.stature + 0.015) / 0.045
		})
		add([]body.Point{sh, el, wr}, func(s *stanceAt) float64 { // and below it
			d := s.p[el].Sub(s.p[sh].Lerp(s.p[wr], 0.5))
			return (d.Dot(s.up)/s.stature + 0.055) / 0.045
		})
		add([]body.Point{sh, wr}, func(s *stanceAt) float64 { // an elbow flexes to about 145°
			d := s.p[wr].Sub(s.p[sh]).Norm() / s.stature
			return math.Max(0, 0.11-d) / 0.01
		})
		foot := 1
		if left {
			foot = 0
		}
		out = append(out, belief{joints: []body.Point{an}, params: true, foot: foot, of: func(s *stanceAt) float64 {
			// A still foot stands; a quick one is in the air.
			quick := math.Min(1, s.fast[foot]/1.5)
			h := s.up.Dot(s.p[an]) - s.floor - s.slope[0] - s.slope[1]*(s.p[an].Z-s.z0)
			return (h - ankleShare*s.stature - 0.01 - 0.06*quick) / footSD(s.fast[foot])
		}})
	}
	for k := range 2 { // the body over its feet
		add([]body.Point{lhp, rhp, body.LeftAnkle, body.RightAnkle}, func(s *stanceAt) float64 {
			d := s.middle(lhp).Sub(s.middle(body.LeftAnkle))
			n, ahead := s.forward(lhp, rhp), 0.02
			if k == 1 {
				n, ahead = n.Cross(s.up), 0
			}
			return (d.Dot(n)/s.stature - ahead) / 0.055
		})
	}
	return out
}

// ankleShare is the ankle joint's height over the ground as a share of stature
// (Drillis & Contini 1966, via Winter; from memory).
const ankleShare = 0.039

// footSD is the sd of an ankle's height about where a foot of that speed has it, metres.
func footSD(fast float64) float64 { return 0.02 + 0.06*math.Min(1, fast/1.5) }

// beliefMemory is how long a posture lasts, seconds: within it, further nodes
// tell nothing new of whether a belief holds.
const beliefMemory = 0.3

// addPriors adds the beliefs about posture at a node. Derivatives are taken by
// difference: each belief touches a few joints.
func (l *lift) addPriors(i int) {
	s := l.stanceAt(i)
	weight := l.span[i] / (l.span[i] + beliefMemory)
	const eps = 1e-4
	for b := range beliefs {
		bel := &beliefs[b]
		if !l.all(bel.joints) {
			continue
		}
		res := bel.of(s)
		if math.IsNaN(res) || math.Abs(res) > 1e6 {
			continue
		}
		var r liftRow
		for _, p := range bel.joints {
			keep := s.p[p]
			s.p[p] = keep.Add(l.ray[p][i].Scale(eps))
			r.put(i*liftJoints+int(p), (bel.of(s)-res)/eps)
			s.p[p] = keep
		}
		if bel.params {
			sd := footSD(s.fast[bel.foot])
			r.param(paramGround, -1/sd)
			r.param(paramSlope, -(s.p[bel.joints[0]].Z-s.z0)/sd)
		}
		l.add(&r, res, weight, true)
	}
}

func (l *lift) all(ps []body.Point) bool {
	for _, p := range ps {
		if !l.seen[p] {
			return false
		}
	}
	return true
}

// stanceAt is the body at a node: read before the next is asked for.
func (l *lift) stanceAt(i int) *stanceAt {
	s := &l.stance
	*s = stanceAt{up: l.up, floor: l.floor, stature: math.Exp(l.theta[paramStature])}
	for j := range liftJoints {
		s.p[j] = l.at(i, j)
	}
	s.fast = [2]float64{l.fast[0][i], l.fast[1][i]}
	s.slope = [2]float64{l.theta[paramGround], l.theta[paramSlope]}
	s.z0, s.net = l.distance, l.net
	return s
}
