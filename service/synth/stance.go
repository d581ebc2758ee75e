package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

const deg = math.Pi / 180

// rest is a waiting position: every coordinate, with the pelvis over the origin,
// heading 0.
type rest [numJoints]float64

// newRest draws the waiting position for a stroke.
func newRest(b Build, d draw, k body.Stroke) *rest {
	var q rest
	for j, v := range readyValues(b, d, k == body.TwoHandedBackhand) {
		q[j] = v
	}
	if k == body.Serve {
		for j, v := range serverValues(b, d) {
			q[j] = v
		}
	}
	q.placeFeet(d, d.in(0.11, 0.17)*b.Stature, k == body.Serve)
	return &q
}

// stand starts the motion in a waiting position at a place, facing head, with the
// small sways of a living body.
func (m *Motion) stand(d draw, q *rest, place geom.Vec3, head float64) {
	m.wrist = [3]float64{d.about(-0.025, 0.008), -d.in(0.02, 0.045), d.about(0, 0.01)}
	m.other = [3]float64{d.about(-0.02, 0.008), d.in(0.02, 0.04), d.about(0, 0.008)}
	for j := range q {
		m.joints[j].set(q[j])
	}
	m.joints[pelvisX].set(place.X)
	m.joints[pelvisZ].set(place.Z)
	m.joints[heading].set(head)
	for foot, f := range q.feet(place, head) {
		js := footJoints[foot]
		m.joints[js[0]].set(f.at.X)
		m.joints[js[1]].set(f.at.Z)
		m.joints[js[3]].set(f.yaw)
	}
	m.sway(d)
}

// feet is where the waiting position puts the feet of a player at place, facing head.
func (q *rest) feet(place geom.Vec3, head float64) [2]footing {
	var fs [2]footing
	for foot, js := range footJoints {
		at := level(head).Scale(q[js[0]]).Add(level(head + 90*deg).Scale(q[js[1]]))
		fs[foot] = footing{place.Add(at), head + q[js[3]]}
	}
	return fs
}

// settle brings the body back to a waiting position between t0 and t1: the feet under the
// pelvis's last place, everything else to its rest value.
func (m *Motion) settle(q *rest, t0, t1 float64, d draw) {
	for j := range q {
		switch joint(j) {
		case pelvisX, pelvisZ, heading, leftFootX, leftFootZ, rightFootX, rightFootZ, leftFootLift, rightFootLift, leftFootYaw, rightFootYaw:
			continue
		}
		c, to := &m.joints[j], q[j]
		if joint(j) == armAz {
			to += wholeTurns(c.goal - to)
		}
		if math.Abs(c.goal-to) > 1e-9 {
			a := d.in(0, 0.12)
			c.to(t0+a*(t1-t0), t1-d.in(0, 0.15)*(t1-t0), to, d.in(-0.2, 0.2))
		}
	}
}

func (q *rest) placeFeet(d draw, wide float64, serve bool) {
	turn := q[heading] + math.Pi/2 // left to right foot
	splay := 12 * deg
	yaw := q[heading]
	if serve {
		turn, yaw, splay = q[heading]+math.Pi-d.in(-15, 25)*deg, q[heading]+d.in(50, 75)*deg, 18*deg
	}
	v := level(turn).Scale(wide)
	q[leftFootX], q[leftFootZ] = q[pelvisX]-v.X, q[pelvisZ]-v.Z
	q[rightFootX], q[rightFootZ] = q[pelvisX]+v.X, q[pelvisZ]+v.Z
	q[leftFootYaw], q[rightFootYaw] = yaw-splay, yaw+splay
}

// readyValues is the waiting position of a groundstroke: racket in front, free hand on it.
func readyValues(b Build, d draw, twoHands bool) map[joint]float64 {
	at := d.in(0.34, 0.4)
	if twoHands {
		at = 0.19
	}
	return map[joint]float64{
		pelvisDrop: d.in(0.035, 0.075) * b.Stature,
		hipYaw:     d.about(0, 4) * deg, shoulderYaw: d.about(0, 4) * deg,
		leanForward: d.in(8, 22) * deg, leanSide: d.about(0, 2) * deg,
		hipTilt: d.about(0, 1.5) * deg, shoulderTilt: d.about(0, 2) * deg,
		headYaw: d.about(0, 5) * deg, headPitch: d.about(-4, 5) * deg,
		armAz: d.about(-22, 6) * deg, armEl: d.about(-46, 6) * deg, armReach: d.in(0.62, 0.74) * b.arm(),
		racketAz: d.about(-18, 10) * deg, racketEl: d.in(15, 50) * deg, racketRoll: d.about(0, 12) * deg,
		poleForward: -0.35, poleUp: -0.85, poleRight: d.in(0.35, 0.7),
		offAz: d.about(15, 6) * deg, offEl: d.about(-40, 6) * deg, offReach: d.in(0.6, 0.75) * b.arm(),
		hold: 1, holdAt: at,
		offPoleForward: -0.35, offPoleUp: -0.85, offPoleLeft: d.in(0.35, 0.7),
	}
}

// serverValues is the waiting position of a server: sideways, racket and ball hand together in front.
func serverValues(b Build, d draw) map[joint]float64 {
	return map[joint]float64{
		pelvisDrop: d.in(0.01, 0.03) * b.Stature,
		hipYaw:     d.in(55, 80) * deg, shoulderYaw: d.in(60, 85) * deg,
		leanForward: d.about(2, 3) * deg, leanSide: d.in(2, 9) * deg,
		headYaw: d.in(5, 30) * deg, headPitch: d.about(-5, 4) * deg,
		plane: upright, armAz: d.about(-48, 5) * deg, armEl: d.about(-38, 5) * deg,
		racketAz: d.about(60, 10) * deg, racketEl: d.about(10, 8) * deg, racketRoll: d.about(0, 10) * deg,
		armReach: d.in(0.72, 0.82) * b.arm(),
		offAz:    d.about(0, 6) * deg, offEl: d.about(-48, 5) * deg, offReach: d.in(0.62, 0.75) * b.arm(),
		hold: 0, poleForward: -0.9, poleUp: -0.3, poleRight: 0.4,
	}
}

// upright is the tilt of the plane in which serves and overheads swing: 70°, so that
// the racket meets the ball 20° outside the vertical through the shoulder.
const upright = 70 * deg

// sway adds slow, small wandering to trunk and arms: breathing and balance, sizes
// in radians and metres (no source; a few millimetres at the hand).
func (m *Motion) sway(d draw) {
	for _, j := range []joint{pelvisX, pelvisZ} {
		m.joints[j].waves = []wave{{d.in(0.001, 0.005), d.in(1, 4), d.in(0, 6.28)}}
	}
	for _, j := range []joint{hipYaw, shoulderYaw, leanSide, leanForward, shoulderTilt, headYaw, headPitch, armAz, armEl, racketAz, racketEl, offAz, offEl} {
		m.joints[j].waves = []wave{{d.in(0.001, 0.008), d.in(1.5, 6), d.in(0, 6.28)}, {d.in(0.0003, 0.0015), d.in(12, 28), d.in(0, 6.28)}}
	}
}

// nod is how the head leaves its place around contact: a little in all, more in
// beginners, who look up early.
type nod struct{ side, forward, before, after float64 }

func newNod(d draw, g float64) nod {
	size := (9 - 5*g) * deg
	return nod{d.about(0, size), d.about(0, size), d.in(0.04, 0.16), d.in(0.06, 0.25)}
}

func (n nod) apply(m *Motion, tc float64) {
	m.joints[neckSide].to(tc-n.before, tc+n.after, n.side, 0)
	m.joints[neckForward].to(tc-n.before, tc+n.after, n.forward, 0)
}
