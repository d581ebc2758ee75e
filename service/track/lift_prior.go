package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// stanceAt is the body at one node as the beliefs about posture read it.
type stanceAt struct {
	p       [liftJoints]geom.Vec3
	ray     [liftJoints]geom.Vec3 // p for a metre of distance along the camera's axis
	up      geom.Vec3
	floor   float64
	stature float64
	fast    [2]float64
	slope   [2]float64 // the ground's correction: height, slope
	z0      float64    // the distance about which the ground's slope turns
	net     geom.Vec3  // the horizontal direction of the net; zero when not known

	chest, belly, look facing // for beliefs
}

// belief is one residual of posture, in units of its sd.
type belief struct {
	joints []body.Point
	// of returns the residual and adds to g its derivatives by the joints' distances.
	of     func(s *stanceAt, g *pulls) float64
	params bool // the ground's height and slope take part
	foot   int
}

// facing is which way a pair of joints faces: level, ahead of the line from left to right.
// Distances turn it about up and change nothing else of it.
type facing struct {
	left, right body.Point
	ahead       geom.Vec3
	aside       geom.Vec3  // up × ahead: where a turn takes it
	turn        [2]float64 // radians about up for a metre of the left's and of the right's distance
}

// pulls are derivatives of a residual by the distances of the joints at a node.
type pulls [liftJoints]float64

// move adds what a residual changes by with the place of p, a unit of it for a metre along v.
func (g *pulls) move(s *stanceAt, p body.Point, v geom.Vec3) { g[p] += v.Dot(s.ray[p]) }

// middle is move for the middle of two joints.
func (g *pulls) middle(s *stanceAt, p body.Point, v geom.Vec3) {
	g[p] += 0.5 * v.Dot(s.ray[p])
	g[p.Twin()] += 0.5 * v.Dot(s.ray[p.Twin()])
}

// turn adds what a residual changes by as a pair faces another way, by c for a radian.
func (g *pulls) turn(f *facing, c float64) {
	g[f.left] += c * f.turn[0]
	g[f.right] += c * f.turn[1]
}

// face works out which way a pair faces.
func (s *stanceAt) face(l, r body.Point) (f facing) {
	f = facing{left: l, right: r}
	n := s.up.Cross(s.p[r].Sub(s.p[l]))
	size := n.Norm()
	if size < 1e-6 {
		return f
	}
	f.ahead = n.Scale(1 / size)
	f.aside = s.up.Cross(f.ahead)
	across := f.aside.Cross(s.up).Scale(1 / size) // a step d of the right joint turns it by aside·(up×d)/size
	f.turn = [2]float64{-across.Dot(s.ray[l]), across.Dot(s.ray[r])}
	return f
}

// level is how far a line from the left to the right joint of a pair rises, over sd.
func (s *stanceAt) level(l body.Point, sd float64, g *pulls) float64 {
	r := l + 1
	e, size := unit(s.p[r].Sub(s.p[l]))
	rise := e.Dot(s.up)
	w := s.up.Sub(e.Scale(rise)).Scale(1 / (size * sd))
	g.move(s, r, w)
	g.move(s, l, w.Scale(-1))
	return rise / sd
}

// along is the way d over sd along which a pair faces, as a share of stature; the caller adds what
// moves d, by the vector that is returned.
func (s *stanceAt) along(d geom.Vec3, f *facing, sd float64, g *pulls) (share float64, w geom.Vec3) {
	w = f.ahead.Scale(1 / (s.stature * sd))
	g.turn(f, d.Dot(f.aside)/(s.stature*sd))
	return d.Dot(f.ahead) / s.stature, w
}

// beside is the same along the line from the left to the right joint of a pair.
func (s *stanceAt) beside(d geom.Vec3, l body.Point, sd float64, g *pulls) (share float64, w geom.Vec3) {
	r := l + 1
	e, size := unit(s.p[r].Sub(s.p[l]))
	k := 1 / (s.stature * sd)
	x := d.Dot(e)
	turn := d.Sub(e.Scale(x)).Scale(k / size)
	g.move(s, r, turn)
	g.move(s, l, turn.Scale(-1))
	return x / s.stature, e.Scale(k)
}

// unit returns v's direction and its length.
func unit(v geom.Vec3) (geom.Vec3, float64) {
	n := v.Norm()
	return v.Scale(1 / n), n
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
		usual = twistShare * clamp(s.turnBetween(s.net, belly), -mostTwist, mostTwist)
	}
	return (s.turnBetween(belly, chest) - usual) / twistSD
}

const (
	twistShare = 0.4
	twistSD    = 0.6 // rad
	mostTwist  = 1.2 // rad of the hips' turn up to which the chest goes on
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
	add := func(joints []body.Point, of func(s *stanceAt, g *pulls) float64) {
		out = append(out, belief{joints: joints, of: of, foot: -1})
	}
	add(trunk, func(s *stanceAt, g *pulls) float64 { // bent a little forward
		return s.bend(0, 0.17, g) - 0.13/0.17
	})
	add(trunk, func(s *stanceAt, g *pulls) float64 { // not sideways
		return s.bend(1, 0.15, g)
	})
	add([]body.Point{lhp, rhp}, func(s *stanceAt, g *pulls) float64 { // hips level
		return s.level(lhp, 0.1, g)
	})
	add([]body.Point{lsh, rsh}, func(s *stanceAt, g *pulls) float64 { // shoulders nearly
		return s.level(lsh, 0.22, g)
	})
	add(trunk, func(s *stanceAt, g *pulls) float64 { // the chest turns against the belly only so far
		back := 1.0
		if s.net != (geom.Vec3{}) && math.Abs(s.turnBetween(s.net, s.belly.ahead)) < mostTwist {
			back += twistShare
		}
		g.turn(&s.chest, 1/twistSD)
		g.turn(&s.belly, -back/twistSD)
		return s.twist(s.belly.ahead, s.chest.ahead)
	})
	head := []body.Point{body.Nose, body.LeftEar, body.RightEar, lsh, rsh}
	add(head, func(s *stanceAt, g *pulls) float64 {
		g.turn(&s.look, 1/0.8)
		g.turn(&s.chest, -1/0.8)
		return s.turnBetween(s.chest.ahead, s.look.ahead) / 0.8
	})
	add(head, func(s *stanceAt, g *pulls) float64 { // head before and over the shoulders
		share, w := s.along(s.middle(body.LeftEar).Sub(s.middle(lsh)), &s.chest, 0.03, g)
		g.middle(s, body.LeftEar, w)
		g.middle(s, lsh, w.Scale(-1))
		return (share - 0.015) / 0.03
	})
	ears := []body.Point{body.Nose, body.LeftEar, body.RightEar}
	add(ears, func(s *stanceAt, g *pulls) float64 { // the nose lies before the ears
		share, w := s.along(s.p[body.Nose].Sub(s.middle(body.LeftEar)), &s.look, 0.012, g)
		g.move(s, body.Nose, w)
		g.middle(s, body.LeftEar, w.Scale(-1))
		return (share - 0.06) / 0.012
	})
	add(ears, func(s *stanceAt, g *pulls) float64 { // and on the midline
		share, w := s.beside(s.p[body.Nose].Sub(s.middle(body.LeftEar)), body.LeftEar, 0.008, g)
		g.move(s, body.Nose, w)
		g.middle(s, body.LeftEar, w.Scale(-1))
		return share / 0.008
	})
	add(ears, func(s *stanceAt, g *pulls) float64 { return s.level(body.LeftEar, 0.2, g) })
	for side := range body.Point(2) {
		out = append(out, sideBeliefs(side)...)
	}
	for k := range 2 { // the body over its feet
		add([]body.Point{lhp, rhp, body.LeftAnkle, body.RightAnkle}, func(s *stanceAt, g *pulls) float64 {
			d := s.middle(lhp).Sub(s.middle(body.LeftAnkle))
			f, ahead := s.belly, 0.02
			if k == 1 {
				f.ahead, f.aside, ahead = f.ahead.Cross(s.up), f.ahead, 0
			}
			share, w := s.along(d, &f, 0.055, g)
			g.middle(s, lhp, w)
			g.middle(s, body.LeftAnkle, w.Scale(-1))
			return (share - ahead) / 0.055
		})
	}
	return out
}

// sideBeliefs are those about the limbs of a side: 0 the left one, 1 the right one.
func sideBeliefs(side body.Point) (out []belief) {
	sh, el, wr := lsh+side, body.LeftElbow+side, body.LeftWrist+side
	hp, kn, an := lhp+side, body.LeftKnee+side, body.LeftAnkle+side
	add := func(joints []body.Point, of func(s *stanceAt, g *pulls) float64) {
		out = append(out, belief{joints: joints, of: of, foot: -1})
	}
	// bent adds what moves a joint from between its neighbours.
	bent := func(s *stanceAt, g *pulls, a, p, b body.Point, w geom.Vec3) {
		g.move(s, p, w)
		g.move(s, a, w.Scale(-0.5))
		g.move(s, b, w.Scale(-0.5))
	}
	add([]body.Point{lhp, rhp, kn, an}, func(s *stanceAt, g *pulls) float64 { // knees bend to the front
		share, w := s.along(s.p[kn].Sub(s.p[hp].Lerp(s.p[an], 0.5)), &s.belly, 0.035, g)
		bent(s, g, hp, kn, an, w)
		return (share - 0.085) / 0.035
	})
	add([]body.Point{lhp, rhp, kn, an}, func(s *stanceAt, g *pulls) float64 { // and not sideways
		share, w := s.beside(s.p[kn].Sub(s.p[hp].Lerp(s.p[an], 0.5)), lhp, 0.035, g)
		bent(s, g, hp, kn, an, w)
		return share / 0.035
	})
	add([]body.Point{lsh, rsh, wr}, func(s *stanceAt, g *pulls) float64 { // hands before the chest
		share, w := s.along(s.p[wr].Sub(s.middle(lsh)), &s.chest, 0.095, g)
		g.move(s, wr, w)
		g.middle(s, lsh, w.Scale(-1))
		return (share - 0.15) / 0.095
	})
	add([]body.Point{lsh, rsh, el, wr}, func(s *stanceAt, g *pulls) float64 { // elbows behind the line of the arm
		share, w := s.along(s.p[el].Sub(s.p[sh].Lerp(s.p[wr], 0.5)), &s.chest, 0.045, g)
		bent(s, g, sh, el, wr, w)
		return (share + 0.015) / 0.045
	})
	add([]body.Point{sh, el, wr}, func(s *stanceAt, g *pulls) float64 { // and below it
		d := s.p[el].Sub(s.p[sh].Lerp(s.p[wr], 0.5))
		bent(s, g, sh, el, wr, s.up.Scale(1/(0.045*s.stature)))
		return (d.Dot(s.up)/s.stature + 0.055) / 0.045
	})
	add([]body.Point{sh, wr}, func(s *stanceAt, g *pulls) float64 { // an elbow flexes to about 145°
		e, d := unit(s.p[wr].Sub(s.p[sh]))
		if d > 0.11*s.stature {
			return 0
		}
		w := e.Scale(-1 / (0.01 * s.stature))
		g.move(s, wr, w)
		g.move(s, sh, w.Scale(-1))
		return (0.11 - d/s.stature) / 0.01
	})
	foot := int(side)
	return append(out, belief{joints: []body.Point{an}, params: true, foot: foot, of: func(s *stanceAt, g *pulls) float64 {
		// A still foot stands; a quick one is in the air.
		quick, sd := math.Min(1, s.fast[foot]/1.5), footSD(s.fast[foot])
		h := s.up.Dot(s.p[an]) - s.floor - s.slope[0] - s.slope[1]*(s.p[an].Z-s.z0)
		g.move(s, an, s.up.Sub(geom.Vec3{Z: s.slope[1]}).Scale(1/sd))
		return (h - ankleShare*s.stature - 0.01 - 0.06*quick) / sd
	}})
}

// bend is how far the trunk leans ahead (way 0) or aside (1) of where chest and belly face
// between them, over sd.
func (s *stanceAt) bend(way int, sd float64, g *pulls) float64 {
	v, size := unit(s.middle(lsh).Sub(s.middle(lhp)))
	n := s.chest.ahead.Add(s.belly.ahead).Unit()
	turned := s.up.Cross(n) // where n goes as both turn by a radian
	if way == 1 {
		n, turned = n.Cross(s.up), n
	}
	lean := v.Dot(n)
	w := n.Sub(v.Scale(lean)).Scale(1 / (size * sd))
	g.middle(s, lsh, w)
	g.middle(s, lhp, w.Scale(-1))
	f := 0.5 * v.Dot(turned) / sd
	g.turn(&s.chest, f)
	g.turn(&s.belly, f)
	return lean / sd
}

// ankleShare is the ankle joint's height over the ground as a share of stature
// (Drillis & Contini 1966, via Winter; from memory).
const ankleShare = 0.039

// footSD is the sd of an ankle's height about where a foot of that speed has it, metres.
func footSD(fast float64) float64 { return 0.02 + 0.06*math.Min(1, fast/1.5) }

// beliefMemory is how long a posture lasts, seconds: within it, further nodes
// tell nothing new of whether a belief holds.
const beliefMemory = 0.3

// addPriors adds the beliefs about posture at a node.
func (l *lift) addPriors(i int) {
	s := l.stanceAt(i)
	s.chest, s.belly, s.look = s.face(lsh, rsh), s.face(lhp, rhp), s.face(body.LeftEar, body.RightEar)
	weight := l.span[i] / (l.span[i] + beliefMemory)
	var g pulls
	for b := range beliefs {
		bel := &beliefs[b]
		if !l.holds[b] {
			continue
		}
		res := bel.of(s, &g)
		var r liftRow
		sound := math.Abs(res) < 1e6
		if !bel.params {
			l.sizeless(i, bel.joints, &g)
		}
		for _, p := range bel.joints {
			r.put(i*liftJoints+int(p), g[p])
			sound = sound && math.Abs(g[p]) < 1e9
			g[p] = 0
		}
		if !sound { // or not a number
			continue
		}
		if bel.params {
			sd := footSD(s.fast[bel.foot])
			r.param(paramGround, -1/sd)
			r.param(paramSlope, -(s.p[bel.joints[0]].Z-s.z0)/sd)
		}
		l.add(&r, res, weight*robustWeight(res*res, 1))
	}
}

// sizeless takes off the pulls on joints at a node what moves them all away alike. Beliefs about
// posture are about shape: in shares of stature they would all be met better by a smaller
// body nearer by, for the image is given in pixels, and the more pixels its spread comes to in
// metres the likelier that makes it, which the residual alone does not say.
func (l *lift) sizeless(i int, joints []body.Point, g *pulls) {
	q := l.lam[i*liftJoints:]
	var along, size float64
	for _, p := range joints {
		along += g[p] * q[p]
		size += q[p] * q[p]
	}
	for _, p := range joints {
		g[p] -= along / size * q[p]
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
	s.up, s.floor, s.stature = l.up, l.floor, math.Exp(l.theta[paramStature])
	for j := range liftJoints {
		s.ray[j] = l.ray[j][i]
		s.p[j] = s.ray[j].Scale(l.lam[i*liftJoints+j])
	}
	s.fast = [2]float64{l.fast[0][i], l.fast[1][i]}
	s.slope = [2]float64{l.theta[paramGround], l.theta[paramSlope]}
	s.z0, s.net = l.distance, l.net
	return s
}
