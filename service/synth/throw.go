package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// throw is a stroke swung over the head: serve and overhead.
type throw struct {
	stroke      body.Stroke
	pace, speed float64
	toss        float64    // s from release to contact
	tossSpan    float64    // s, the tossing arm's rise
	tossLow     float64    // elevation of the tossing arm before the rise
	tossHigh    float64    // and after it
	prep        float64    // s before contact that the turn starts
	hip, sh     hit        // trunk yaws
	arm         hit        // azimuth in the swing plane
	rise, reach hit        // elevation in that plane, share of arm length
	lag, dip    hit        // racket
	trophyHand  geom.Vec3  // from the shoulder, arm lengths: X, up, right
	trophyAxis  geom.Vec3  // racket axis
	downHand    geom.Vec3  // on the way back
	dropTime    [2]float64 // s before contact at pace 1
	knees       [2]float64 // hip drop: load, contact; m
	kneeTime    [2]float64 // s before contact: deepest, straight
	jump        float64    // m
	jumpLate    float64    // s from contact to its top
	pinpoint    bool
	lean        [2]float64 // at contact
	leanBack    float64
	tilt        [2]float64 // shoulder tilt in the trophy, at contact
	finish      float64
	recover     [2]float64
	strike      striking
	air         bool // no ball: nothing breaks the motion
	roll        hit
	nod         nod
}

func newThrow(s Spec, d draw) throw {
	g, k := level01(s.Level), s.Knobs
	v := throw{stroke: s.Stroke, pace: 1, speed: s.tipSpeed(d)}
	v.toss, v.tossSpan, v.prep = d.in(0.56, 0.88), 0.5, d.in(0.9, 1.3)
	v.tossLow, v.tossHigh = -d.in(52, 64)*deg, d.in(62, 78)*deg
	v.hip = hit{d.in(72, 98) * deg, d.in(18, 40) * deg, -d.in(0.10, 0.13) - k.ContactTime, d.in(0.34, 0.44), 0}
	v.sh = hit{(d.in(92, 112) + 8*g + k.Turn) * deg, d.in(15, 35) * deg, -d.in(0.075, 0.10) - k.ContactTime, d.in(0.30, 0.38), 0}
	v.arm = hit{d.in(126, 142) * deg, d.in(67, 79) * deg, -d.in(0.005, 0.025), d.in(0.44, 0.52), d.in(0.2, 0.45)}
	v.rise = hit{-d.in(15, 32) * deg, d.in(0, 10) * deg, -0.03, 0.34, 0}
	v.reach = hit{d.in(0.48, 0.58), d.in(0.96, 1.03), d.in(-0.05, -0.03), d.in(0.26, 0.32), 0}
	v.reach.hit -= k.ArmBend / (0.332 * s.Stature)
	v.lag = hit{(d.in(95, 112) + 12*g + k.Lag) * deg, d.in(6, 18) * deg, d.in(0.002, 0.02), d.in(0.40, 0.48), d.in(0.35, 0.55)}
	v.dip = hit{-d.in(5, 22) * deg, d.in(-4, 14) * deg, 0, d.in(0.24, 0.3), 0}
	v.roll = hit{d.in(30, 70) * deg, d.about(0, 5) * deg, d.in(0, 0.01), d.in(0.2, 0.26), 0}
	v.trophyHand = geom.Vec3{X: -d.in(0.25, 0.45), Y: d.in(0.15, 0.45), Z: d.in(0.2, 0.45)}
	v.trophyAxis = geom.Vec3{X: d.in(-0.1, 0.4), Y: 0.9, Z: d.in(-0.3, 0.1)}.Unit()
	v.downHand = geom.Vec3{X: -d.in(0.2, 0.5), Y: -d.in(0.45, 0.7), Z: d.in(0.1, 0.35)}
	v.dropTime = [2]float64{d.in(0.38, 0.46), d.in(0.06, 0.085)}
	v.legs(s, d, g)
	v.lean = [2]float64{-d.in(6, 18) * deg, d.in(10, 20) * deg}
	v.leanBack = -d.in(3, 12) * deg
	v.tilt = [2]float64{-d.in(10, 24) * deg, d.in(30, 46) * deg}
	v.finish, v.recover = d.in(0.36, 0.5), [2]float64{d.in(0.65, 0.8), d.in(1.3, 1.7)}
	v.strike = striking{d.in(0.2, 0.3), d.in(0.03, 0.08), d.in(0, 0.005), d.in(0.1, 0.16)}
	v.nod = newNod(d, g)
	return v
}

func (v *throw) legs(s Spec, d draw, g float64) {
	h := s.Stature
	v.knees = [2]float64{(d.in(0.05, 0.075)+0.05*g)*h + s.Knobs.Legs, 0.012 * h}
	v.kneeTime = [2]float64{d.in(0.28, 0.38), d.in(0.0, 0.05)}
	v.jump = max(0, d.in(-0.02, 0.06)+0.09*g)
	v.pinpoint, v.jumpLate = d.chance(0.5), d.in(0, 0.05)
	if v.stroke == body.Overhead {
		v.knees[0] *= 0.7
		v.jump *= 0.5
	}
}

// aim returns azimuth and elevation in a plane tilted by upright of a direction
// given as X, up, right of the heading; the azimuth is the one nearest to near.
func aim(v geom.Vec3, near float64) (az, el float64) {
	sb, cb := math.Sincos(upright)
	e1 := v.Z*cb + v.Y*sb
	e2 := v.Y*cb - v.Z*sb
	az = math.Atan2(e1, v.X)
	az += 2 * math.Pi * math.Round((near-az)/(2*math.Pi))
	return az, math.Asin(max(-1, min(1, e2/v.Norm())))
}

func (v *throw) apply(m *Motion, d draw, tc float64) (start, end float64) {
	first := tc - v.early()
	if v.stroke == body.Serve {
		v.tossArm(m, tc-v.toss)
	} else {
		v.point(m, first, tc)
	}
	v.turn(m, first, tc)
	v.takeBack(m, first, tc)
	v.forward(m, tc)
	v.push(m, first, tc)
	v.nod.apply(m, tc)
	if !v.air {
		m.strike(tc, v.strike)
	}
	v.follow(m, tc)
	return first - 0.8, tc + v.ready()[1] + 0.1
}

// early is how long before contact the stroke begins, s. A slow swing begins sooner:
// the way back to the trophy takes what it takes, 0.4 s and more.
func (v *throw) early() float64 {
	trophy := v.pace * v.dropTime[0]
	if v.stroke == body.Serve {
		return max(v.toss+0.35, trophy+0.55)
	}
	return max(v.prep, trophy+0.42)
}

// tossArm raises the left hand with the ball, in a plane that stays with the court
// while the shoulders turn; released at tr, just past the arm's fastest, a little above
// the level: the arm stretches meanwhile so that the hand goes straight up.
func (v *throw) tossArm(m *Motion, tr float64) {
	arm := m.Build.arm()
	t0 := tr - 0.54*v.tossSpan
	m.joints[offEl].to(t0-0.35, t0+0.03, v.tossLow, 0)
	m.joints[offEl].to(t0, t0+v.tossSpan, v.tossHigh, 0)
	m.joints[offReach].to(t0-0.3, t0+0.03, 0.64*arm, 0)
	m.joints[offReach].to(t0, t0+1.1*v.tossSpan, 0.93*arm, 0)
}

// point raises the left hand toward the falling ball of an overhead.
func (v *throw) point(m *Motion, t, tc float64) {
	arm := m.Build.arm()
	m.joints[hold].to(t, t+0.25, 0, 0)
	m.joints[offEl].to(t+0.1, t+0.55, 55*deg, 0)
	m.joints[offReach].to(t+0.1, t+0.55, 0.88*arm, 0)
}

func (v *throw) turn(m *Motion, t, tc float64) {
	turned := tc - 0.38*v.pace
	m.joints[hipYaw].to(t, min(turned, t+0.55), v.hip.from, 0)
	if v.stroke == body.Serve { // the tossing arm keeps its direction over the court
		m.joints[offAz].to(t+0.05, min(turned+0.02, t+0.52), m.joints[offAz].goal-v.sh.from+m.joints[shoulderYaw].goal, 0)
	}
	m.joints[shoulderYaw].to(t+0.05, min(turned+0.02, t+0.52), v.sh.from, 0)
	m.joints[headYaw].to(t+0.1, turned, 15*deg, 0)
	m.joints[headPitch].to(t+0.2, turned, 42*deg, 0)
	m.joints[leanForward].to(t+0.2, turned, v.leanBack, 0)
	m.joints[leanSide].to(t, turned, 4*deg, 0)
	m.joints[shoulderTilt].to(t+0.2, turned, v.tilt[0], 0)
}

func (v *throw) takeBack(m *Motion, t, tc float64) {
	p, arm := v.pace, m.Build.arm()
	trophy := tc - p*v.dropTime[0]
	m.joints[plane].to(t, t+0.4, upright, 0)
	if v.stroke == body.Serve {
		m.elbowBack(t, t+0.25)
	} // an overhead's hand goes up in front of the face, where an elbow that points back has no side to bend to
	down, turns := t, wholeTurns(m.joints[armAz].goal)
	if v.stroke == body.Serve {
		down = t + 0.45*(trophy-t)
		az, el := aim(v.downHand, turns-100*deg)
		m.joints[armAz].to(t, down+0.1, az, 0)
		m.joints[armEl].to(t, down+0.1, el, 0)
		m.joints[armReach].to(t, down+0.1, v.downHand.Norm()*arm, 0)
	}
	around := turns
	if v.stroke == body.Serve { // the hand goes down and up behind, once around
		around -= 2 * math.Pi
	}
	m.joints[poleForward].to(down-0.1, trophy, 0.2, 0)
	m.joints[poleUp].to(down-0.1, trophy, -0.15, 0)
	m.joints[poleRight].to(down-0.1, trophy, 1, 0)
	az, el := aim(v.trophyHand, around+130*deg)
	m.joints[armAz].to(down-0.05, trophy+0.08, az, 0)
	m.joints[armEl].to(down-0.05, trophy+0.08, el, 0)
	m.joints[armReach].to(down-0.05, trophy+0.08, v.trophyHand.Norm()*arm, 0)
	raz, rel := aim(v.trophyAxis, around+85*deg)
	m.joints[racketAz].to(t+0.1, trophy, raz-az, 0)
	m.joints[racketEl].to(t+0.1, trophy, rel, 0)
	m.joints[racketRoll].to(t+0.1, trophy, v.roll.from, 0)
}

func (v *throw) forward(m *Motion, tc float64) {
	p, arm := v.pace, m.Build.arm()
	t0, t1 := tc-p*v.dropTime[0], tc-p*v.dropTime[1]
	turns := wholeTurns(m.joints[armAz].goal - v.arm.from)
	up := v.arm
	up.from, up.hit = up.from+turns, up.hit+turns
	m.joints[armAz].to(t0, t1-0.05*p, up.from, 0)
	m.joints[armEl].to(t0, t1, v.rise.from, 0)
	m.joints[armReach].to(t0, t1, v.reach.from*arm, 0)
	m.joints[racketAz].to(t0, t1+0.015*p, v.lag.from, 0)
	m.joints[racketEl].to(t0, t1+0.015*p, v.dip.from, 0)
	m.joints[hipYaw].pass(tc, p, v.hip)
	m.joints[shoulderYaw].pass(tc, p, v.sh)
	m.joints[armAz].pass(tc, p, up)
	m.joints[armEl].pass(tc, p, v.rise)
	m.joints[armReach].pass(tc, p, v.reach.times(arm))
	m.joints[racketAz].pass(tc, p, v.lag)
	m.joints[racketEl].pass(tc, p, v.dip)
	m.joints[racketRoll].pass(tc, p, v.roll)
	m.joints[leanSide].to(tc-p*0.32, tc, v.lean[0], 0)
	m.joints[leanForward].to(tc-p*0.30, tc+0.06, v.lean[1], 0)
	m.joints[shoulderTilt].to(tc-p*0.30, tc+0.02, v.tilt[1], 0)
	m.joints[offEl].to(tc-p*0.36, tc-0.02, -25*deg, 0)
	m.joints[offReach].to(tc-p*0.36, tc, 0.5*arm, 0)
}

// push bends and stretches the legs, and carries the body into the court.
func (v *throw) push(m *Motion, t, tc float64) {
	along := level(m.joints[heading].goal)
	m.shift(t, tc-0.35, along.Scale(0.10))
	m.shift(tc-0.35, tc+0.1, along.Scale(0.18))
	deepest := tc - v.pace*v.kneeTime[0]
	load := max(v.knees[0], m.joints[pelvisDrop].goal+0.03*m.Build.Stature)
	m.joints[pelvisDrop].to(t+0.1, deepest, load, 0)
	m.joints[pelvisDrop].to(deepest, tc-v.kneeTime[1]+0.03, v.knees[1], 0)
	begin := tc - v.toss*0.9
	if v.stroke == body.Overhead {
		begin = t + 0.1
	}
	if v.pinpoint && deepest-0.12-begin > 0.22 {
		b := m.Build.Stature
		m.stepFoot(right, begin, deepest-0.12, m.joints[leftFootX].goal-0.10*b*along.X, m.joints[leftFootZ].goal-0.10*b*along.Z+0.05, m.joints[rightFootYaw].goal, 0.04)
	}
	if v.jump > 0.01 {
		m.leap(tc+v.jumpLate, v.jump, 0.005)
	}
	lx, lz := m.joints[leftFootX].goal+0.3*along.X, m.joints[leftFootZ].goal+0.3*along.Z
	m.stepFoot(left, tc-0.04, tc+0.24, lx, lz, m.joints[heading].goal+25*deg, 0.03)
	m.stepFoot(right, tc-0.12, tc+0.5, lx+0.3*along.X-0.3*along.Z, lz+0.3*along.Z+0.3*along.X, m.joints[heading].goal, 0.12)
	m.shift(tc+0.1, tc+0.6, along.Scale(0.3))
	m.joints[pelvisDrop].to(tc+0.03, tc+0.48, 0.05*m.Build.Stature, 0)
}

func (v *throw) follow(m *Motion, tc float64) {
	p, arm := v.pace, m.Build.arm()
	t0, t1 := tc+0.01*p, tc+p*(v.finish+0.05)
	turns := wholeTurns(m.joints[armAz].goal)
	m.joints[armAz].to(t0, t1, turns-50*deg, 0.45)
	m.joints[hipYaw].to(tc+0.05, t1, 5*deg, 0)
	m.joints[shoulderYaw].to(t0, t1, -25*deg, 0)
	m.joints[armEl].to(t0, t1, 10*deg, 0)
	m.joints[armReach].to(t0, t1, 0.72*arm, 0)
	m.joints[racketAz].to(t0, t1, -55*deg, 0.45)
	m.joints[racketEl].to(t0, t1, 15*deg, 0)
	m.joints[headPitch].to(tc+0.05, tc+0.4, -5*deg, 0)
	m.joints[headYaw].to(tc+0.05, tc+0.4, 0, 0)
}

// elbowBack lets the right elbow point back, as it does under a hanging arm.
func (m *Motion) elbowBack(t0, t1 float64) {
	m.joints[poleForward].to(t0, t1, -0.9, 0)
	m.joints[poleUp].to(t0, t1, -0.3, 0)
	m.joints[poleRight].to(t0, t1, 0.4, 0)
}

// wholeTurns is the multiple of 2π nearest to an azimuth.
func wholeTurns(az float64) float64 { return 2 * math.Pi * math.Round(az/(2*math.Pi)) }
