package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// A limb's end keeps between these shares of its length from the root: the elbow
// between about 16° and 140° of flexion, the knee from 9° (common practice, no
// source). Near the limits the approach is eased; planted legs lower the hips from hipFrom.
const (
	armFrom, armMost      = 0.90, 0.990
	legFrom, legMost      = 0.975, 0.997
	hipFrom               = 0.965
	closeFrom, closeLeast = 0.45, 0.34
)

// reachable eases the vector v, from a limb's root to its end, into the limb's range.
func reachable(v geom.Vec3, length, from, most float64) geom.Vec3 {
	d := v.Norm()
	if d == 0 {
		return geom.Vec3{Y: -closeFrom * length}
	}
	e := within(d, from*length, most*length)
	e = -within(-e, -closeFrom*length, -closeLeast*length)
	return v.Scale(e / d)
}

// bend returns the middle joint of a two-segment limb from root to end, bent
// toward pole: the law of cosines in the plane that root, end and pole span.
func bend(root, end, pole geom.Vec3, a, b float64) geom.Vec3 {
	v := end.Sub(root)
	d := v.Norm()
	axis := v.Scale(1 / d)
	out := pole.Sub(axis.Scale(pole.Dot(axis))).Unit()
	x := (a*a - b*b + d*d) / (2 * d)
	y := math.Sqrt(math.Max(0, a*a-x*x))
	return root.Add(axis.Scale(x)).Add(out.Scale(y))
}

func (s *posture) inRacket(o [3]float64) geom.Vec3 {
	return s.u.Scale(o[0]).Add(s.n.Scale(o[1])).Add(s.r.Scale(o[2]))
}

// arms brings the racket within reach of the hands that hold it, and bends the elbows.
func (m *Motion) arms(s *posture, p *Pose) {
	b := m.Build
	chest := level(s.q[heading] + s.q[shoulderYaw])
	side := level(s.q[heading] + s.q[shoulderYaw] + math.Pi/2)
	ro, lo := s.inRacket(m.wrist), s.inRacket(m.other).Add(s.u.Scale(s.q[holdAt]-gripAt))
	for range 3 {
		wrist := s.grip.Add(lo)
		fixed := s.sh[left].Add(reachable(wrist.Sub(s.sh[left]), b.arm(), armFrom, armMost))
		s.grip = s.grip.Add(fixed.Sub(wrist).Scale(s.q[hold]))
		wrist = s.grip.Add(ro)
		fixed = s.sh[right].Add(reachable(wrist.Sub(s.sh[right]), b.arm(), armFrom, armMost))
		s.grip = s.grip.Add(fixed.Sub(wrist))
	}
	wrist := s.grip.Add(ro)
	pole := chest.Scale(s.q[poleForward]).Add(upward.Scale(s.q[poleUp])).Add(side.Scale(s.q[poleRight]))
	p.P[body.RightWrist] = wrist
	p.P[body.RightElbow] = bend(s.sh[right], wrist, pole, b.UpperArm, b.Forearm)
	p.P[body.RightHand] = s.grip

	free := s.sh[left].Add(tilted(level(s.q[heading]+s.q[shoulderYaw]+s.q[offAz]), s.q[offEl]).Scale(s.q[offReach]))
	wrist = free.Lerp(s.grip.Add(lo), s.q[hold])
	wrist = s.sh[left].Add(reachable(wrist.Sub(s.sh[left]), b.arm(), armFrom, armMost))
	pole = chest.Scale(s.q[offPoleForward]).Add(upward.Scale(s.q[offPoleUp])).Sub(side.Scale(s.q[offPoleLeft]))
	p.P[body.LeftWrist] = wrist
	p.P[body.LeftElbow] = bend(s.sh[left], wrist, pole, b.UpperArm, b.Forearm)
	p.P[body.LeftHand] = wrist.Add(wrist.Sub(p.P[body.LeftElbow]).Unit().Scale(b.Hand))
}

var footJoints = [2][4]joint{
	{leftFootX, leftFootZ, leftFootLift, leftFootYaw},
	{rightFootX, rightFootZ, rightFootLift, rightFootYaw},
}

func (m *Motion) ankle(s *posture, foot int) geom.Vec3 {
	f := footJoints[foot]
	return geom.Vec3{X: s.q[f[0]], Y: m.Build.AnkleHeight + s.q[f[2]], Z: s.q[f[1]]}
}

// hipHeight lowers the wanted hip height as far as both planted legs reach,
// by a smooth minimum: −w ln Σ exp(−yᵢ/w), w = 2 cm.
func (m *Motion) hipHeight(s *posture, hip geom.Vec3) float64 {
	const w = 0.02
	most := hipFrom * m.Build.leg()
	ys := [3]float64{s.midHip.Y}
	for foot := range 2 {
		a := m.ankle(s, foot)
		root := s.midHip.Add(hip.Scale(float64(2*foot - 1)))
		flat := within(a.Sub(root).Flat().Norm(), 0.48*most, 0.66*most) // beyond that the heel leaves the ground
		ys[foot+1] = a.Y + math.Sqrt(most*most-flat*flat) - (root.Y - s.midHip.Y)
	}
	low := min(ys[0], ys[1], ys[2])
	sum := 0.0
	for _, y := range ys {
		sum += math.Exp(-(y - low) / w)
	}
	return low - w*math.Log(sum)
}

func (m *Motion) feet(s *posture, p *Pose) {
	b := m.Build
	points := [2][4]body.Point{
		{body.LeftKnee, body.LeftAnkle, body.LeftToe, body.LeftHeel},
		{body.RightKnee, body.RightAnkle, body.RightToe, body.RightHeel},
	}
	for foot := range 2 {
		yaw := s.q[footJoints[foot][3]]
		ankle := s.hips[foot].Add(reachable(m.ankle(s, foot).Sub(s.hips[foot]), b.leg(), legFrom, legMost))
		along := level(yaw)
		pole := along.Add(level(s.q[heading] + s.q[hipYaw])).Add(upward.Scale(0.2))
		p.P[points[foot][0]] = bend(s.hips[foot], ankle, pole, b.Thigh, b.Shank)
		p.P[points[foot][1]] = ankle
		sole := ankle.Sub(upward.Scale(0.7 * b.AnkleHeight))
		p.P[points[foot][2]] = sole.Add(along.Scale(b.FootFront))
		p.P[points[foot][3]] = sole.Sub(along.Scale(b.FootBack))
	}
}
