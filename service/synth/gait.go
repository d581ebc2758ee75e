package synth

import "example.com/courtkin/service/geom"

// footing is where a foot is to stand, and which way it points.
type footing struct {
	at  geom.Vec3
	yaw float64
}

// pelvisAt is the pelvis's place on the ground at t.
func (m *Motion) pelvisAt(t float64) geom.Vec3 {
	return geom.Vec3{X: m.joints[pelvisX].at(t), Z: m.joints[pelvisZ].at(t)}
}

// shift moves the pelvis over the ground by v between t0 and t1.
func (m *Motion) shift(t0, t1 float64, v geom.Vec3) {
	m.joints[pelvisX].to(t0, t1, m.joints[pelvisX].goal+v.X, 0)
	m.joints[pelvisZ].to(t0, t1, m.joints[pelvisZ].goal+v.Z, 0)
}

// footsteps takes n alternating steps between t0 and t1, the lead foot first. Each
// lands where the pelvis will be half a step later, the last of each foot on its
// final footing. The pelvis's moves must be there already.
func (m *Motion) footsteps(t0, t1 float64, n, lead int, final [2]footing, d draw) {
	n = stepsIn(n, t1-t0)
	dt := (t1 - t0) / float64(n)
	wide := d.in(0.07, 0.1) * m.Build.Stature
	for i := range n {
		foot := lead
		if i%2 == 1 {
			foot = 1 - lead
		}
		a := t0 + float64(i)*dt
		b := min(t1, a+1.12*dt)
		to := final[foot]
		if i < n-2 {
			side := level(m.joints[heading].at(b) + 90*deg).Scale(wide * float64(2*foot-1))
			to.at = m.pelvisAt(b + 0.6*dt).Add(side)
		}
		if d := to.at.Sub(m.footAt(foot)).Norm(); d < 0.02 {
			continue
		}
		m.stepFoot(foot, a, b, to.at.X, to.at.Z, to.yaw, d.in(0.03, 0.08))
	}
}

// footAt is where a foot will stand after all moves so far.
func (m *Motion) footAt(foot int) geom.Vec3 {
	f := footJoints[foot]
	return geom.Vec3{X: m.joints[f[0]].goal, Z: m.joints[f[1]].goal}
}

// stepFoot carries a foot to (x, z) between t0 and t1.
func (m *Motion) stepFoot(foot int, t0, t1, x, z, yaw, lift float64) {
	f := footJoints[foot]
	m.joints[f[0]].to(t0, t1, x, 0)
	m.joints[f[1]].to(t0, t1, z, 0)
	m.joints[f[2]].bump(t0, t1, lift)
	m.joints[f[3]].to(t0, t1, yaw, 0)
}

// stepsIn is how many of n steps fit into a time, 0.19 s each, two at least.
func stepsIn(n int, span float64) int { return max(2, min(n, 2*int(span/0.38))) }

// stepsFor is how many steps a distance takes: one of each foot, and again for each 45 cm.
func stepsFor(dist float64) int { return 2 + 2*int(dist/0.45) }

// regroup brings the feet back under the body, as the waiting position has them.
func (m *Motion) regroup(q *rest, t0, t1 float64, n int, d draw) {
	at := geom.Vec3{X: m.joints[pelvisX].goal, Z: m.joints[pelvisZ].goal}
	m.footsteps(t0, t1, n, d.IntN(2), q.feet(at, m.joints[heading].goal), d)
}
