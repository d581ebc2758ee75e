package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// joint names one coordinate of the body. Angles are radians. Azimuths run from
// the player's X (heading) toward his right (+Z); yaws of trunk and head too.
type joint int

const (
	pelvisX joint = iota // court axes, m
	pelvisZ
	pelvisDrop // below standing with straight legs, m
	heading    // direction the player calls forward, from court X toward +Z
	hipYaw
	shoulderYaw
	leanSide // toward +Z of the heading
	leanForward
	hipTilt // right side up
	shoulderTilt
	headYaw
	headPitch
	neckSide // the neck's lean beyond the spine's, toward +Z and X of the heading
	neckForward

	plane  // tilt of the swing plane about the heading: 0 level, π/2 upright
	baseAt // polar centre of the hands: 0 right shoulder, 1 mid-shoulder
	armAz  // grip centre from the polar centre
	armEl
	armReach // m
	racketAz // racket axis relative to armAz: the lag
	racketEl
	racketRoll
	poleForward // right elbow points here, chest axes
	poleUp
	poleRight

	offAz // left wrist from the left shoulder, azimuth from the chest normal
	offEl
	offReach
	hold   // 0 left hand free, 1 on the racket
	holdAt // distance from the butt of the left hand on the racket, m
	offPoleForward
	offPoleUp
	offPoleLeft

	leftFootX
	leftFootZ
	leftFootLift
	leftFootYaw // relative to court X
	rightFootX
	rightFootZ
	rightFootLift
	rightFootYaw

	numJoints
)

// Motion is a body, racket and ball over time. Made as a right-hander; a
// left-hander is its mirror image in Z.
type Motion struct {
	Build      Build
	LeftHanded bool
	Start, End float64 // seconds: the motion is made for [Start, End]
	Struck     []Struck

	joints [numJoints]course
	balls  []flight
	wrist  [3]float64 // right wrist from the grip centre along racket axis, face normal, right edge; m
	other  [3]float64 // left wrist from its place on the handle, the same axes
}

// Pose is every point at one instant, court axes, metres.
type Pose struct {
	P       [body.NumPoints]geom.Vec3
	HasBall bool
}

// At returns the pose at t seconds. Positions are continuous everywhere; at a
// contact the velocities of the racket and the hitting arm break.
func (m *Motion) At(t float64) Pose {
	var p Pose
	m.body(t, &p)
	if b, ok := m.ball(t); ok {
		p.P[body.Ball], p.HasBall = b, true
	}
	if m.LeftHanded {
		p = p.mirror()
	}
	return p
}

// mirror returns the pose seen in the plane Z = 0.
func (p Pose) mirror() Pose {
	q := Pose{HasBall: p.HasBall}
	for i := range p.P {
		q.P[body.Point(i).Twin()] = p.P[i].MirrorZ()
	}
	return q
}

// posture is the coordinates at one instant with the axes they are written in.
type posture struct {
	q       [numJoints]float64
	x, z    geom.Vec3 // heading and the player's right, horizontal
	hips    [2]geom.Vec3
	sh      [2]geom.Vec3
	midHip  geom.Vec3
	midSh   geom.Vec3
	up      geom.Vec3 // along the spine
	grip    geom.Vec3
	u, n, r geom.Vec3 // racket axis, forehand face normal, right edge
}

const (
	left  = 0
	right = 1
)

var upward = geom.Vec3{Y: 1}

// level is the horizontal unit vector at yaw from court X toward +Z.
func level(yaw float64) geom.Vec3 {
	s, c := math.Sincos(yaw)
	return geom.Vec3{X: c, Z: s}
}

func (m *Motion) body(t float64, p *Pose) {
	var q [numJoints]float64
	for i := range q {
		q[i] = m.joints[i].at(t)
	}
	m.shape(q, p)
}

// shape sets every body and racket point from the coordinates.
func (m *Motion) shape(q [numJoints]float64, p *Pose) {
	s := posture{q: q}
	s.x, s.z = level(s.q[heading]), level(s.q[heading]+math.Pi/2)
	m.trunk(&s, p)
	m.racket(&s)
	m.arms(&s, p)
	m.placeRacket(&s, p)
	m.feet(&s, p)
	m.head(&s, p)
}

func (m *Motion) trunk(s *posture, p *Pose) {
	b := m.Build
	s.midHip = geom.Vec3{X: s.q[pelvisX], Y: b.standing() - s.q[pelvisDrop], Z: s.q[pelvisZ]}
	hip := tilted(level(s.q[heading]+s.q[hipYaw]+math.Pi/2), s.q[hipTilt]).Scale(b.HipWidth / 2)
	s.midHip.Y = m.hipHeight(s, hip)
	s.hips = [2]geom.Vec3{s.midHip.Sub(hip), s.midHip.Add(hip)}
	s.up = upward.Add(s.z.Scale(math.Tan(s.q[leanSide]))).Add(s.x.Scale(math.Tan(s.q[leanForward]))).Unit()
	s.midSh = s.midHip.Add(s.up.Scale(b.Trunk))
	half := tilted(level(s.q[heading]+s.q[shoulderYaw]+math.Pi/2), s.q[shoulderTilt]).Scale(b.ShoulderWidth / 2)
	s.sh = [2]geom.Vec3{s.midSh.Sub(half), s.midSh.Add(half)}

	p.P[body.LeftHip], p.P[body.RightHip] = s.hips[left], s.hips[right]
	p.P[body.LeftShoulder], p.P[body.RightShoulder] = s.sh[left], s.sh[right]
	p.P[body.MidHip] = s.midHip
	p.P[body.Neck] = s.midSh.Add(s.up.Scale(0.02 * b.Stature))
	p.P[body.Chest] = s.midHip.Lerp(s.midSh, 0.7)
}

// tilted raises a horizontal unit vector by an elevation.
func tilted(v geom.Vec3, el float64) geom.Vec3 {
	sin, cos := math.Sincos(el)
	return v.Scale(cos).Add(upward.Scale(sin))
}

func (m *Motion) head(s *posture, p *Pose) {
	b := m.Build
	neck := s.up.Add(upward).Unit().Add(s.z.Scale(math.Tan(s.q[neckSide]))).Add(s.x.Scale(math.Tan(s.q[neckForward]))).Unit()
	ear := s.midSh.Add(neck.Scale(b.Neck))
	yaw := s.q[heading] + s.q[headYaw]
	face := tilted(level(yaw), s.q[headPitch])
	side := level(yaw + math.Pi/2).Scale(b.HeadHalf)
	crown := side.Cross(face).Unit()
	if crown.Y < 0 {
		crown = crown.Scale(-1)
	}
	p.P[body.LeftEar], p.P[body.RightEar] = ear.Sub(side), ear.Add(side)
	p.P[body.Nose] = ear.Add(face.Scale(b.Nose)).Sub(crown.Scale(0.01 * b.Stature))
	p.P[body.Head] = ear
	p.P[body.HeadTop] = ear.Add(crown.Scale(0.075 * b.Stature))
}

// polar returns the unit vector at azimuth and elevation in the swing plane's
// axes: e0 the heading, e1 the player's right turned up by the plane's tilt, e2 their normal.
func (s *posture) polar(az, el float64) geom.Vec3 {
	sb, cb := math.Sincos(s.q[plane])
	e1 := s.z.Scale(cb).Add(upward.Scale(sb))
	e2 := upward.Scale(cb).Sub(s.z.Scale(sb))
	sa, ca := math.Sincos(az)
	se, ce := math.Sincos(el)
	return s.x.Scale(ca * ce).Add(e1.Scale(sa * ce)).Add(e2.Scale(se))
}

// racket sets the grip centre before the arms limit it, and the racket's axes.
// The forehand face looks against rising azimuth at zero roll.
func (m *Motion) racket(s *posture) {
	base := s.sh[right].Lerp(s.midSh, s.q[baseAt])
	s.grip = base.Add(s.polar(s.q[armAz], s.q[armEl]).Scale(s.q[armReach]))
	az := s.q[armAz] + s.q[racketAz]
	s.u = s.polar(az, s.q[racketEl])
	turn := s.polar(az+math.Pi/2, 0)
	n0 := turn.Scale(-1)
	sr, cr := math.Sincos(s.q[racketRoll])
	s.n = n0.Scale(cr).Add(n0.Cross(s.u).Scale(sr))
	s.r = s.n.Cross(s.u)
}

func (m *Motion) placeRacket(s *posture, p *Pose) {
	b := m.Build
	butt := s.grip.Sub(s.u.Scale(gripAt))
	mid := butt.Add(s.u.Scale((b.Racket + b.Throat) / 2))
	p.P[body.RacketButt] = butt
	p.P[body.RacketTip] = butt.Add(s.u.Scale(b.Racket))
	p.P[body.RacketThroat] = butt.Add(s.u.Scale(b.Throat))
	p.P[body.RacketLeft] = mid.Sub(s.r.Scale(b.HeadWidth / 2))
	p.P[body.RacketRight] = mid.Add(s.r.Scale(b.HeadWidth / 2))
}

// gripAt is the distance of the grip centre from the butt, metres (measures.md).
const gripAt = 0.10

// window is the same motion for times in [t0, t1], quicker to ask: moves that are
// over are folded into the start values, moves yet to come are left out.
func (m *Motion) window(t0, t1 float64) *Motion {
	w := *m
	for j := range w.joints {
		c := &w.joints[j]
		old := *c
		c.moves, c.blows, c.hops = nil, nil, nil
		for _, h := range old.hops {
			if h.over() > t0 && 2*h.top-h.over() < t1 {
				c.hops = append(c.hops, h)
			}
		}
		for _, v := range old.moves {
			switch {
			case v.start+v.span <= t0:
				c.base += v.size
			case v.start < t1:
				c.moves = append(c.moves, v)
			}
		}
		for _, b := range old.blows {
			switch {
			case b.time+b.hold <= t0:
				c.base += b.end()
			case b.time < t1:
				c.blows = append(c.blows, b)
			}
		}
	}
	return &w
}
