package synth

import (
	"math"

	"example.com/courtkin/service/body"
)

// apply appends the stroke with contact at tc to a body that waits ready.
// It returns the stretch that the stroke takes.
func (v *drive) apply(m *Motion, d draw, tc float64) (start, end float64) {
	turn := tc - v.prep - 0.42*v.pace
	start = turn - v.landing - 0.35
	m.joints[armAz].unwind()
	v.split(m, turn-v.landing)
	v.turn(m, turn, tc)
	v.takeBack(m, turn, tc)
	v.forward(m, tc)
	v.step(m, d, turn, tc)
	if !v.air {
		m.strike(tc, striking{v.loss, v.lossHand, v.lossTime, v.lossHold})
	}
	v.follow(m, tc)
	return start, tc + v.pace*v.recover[1] + 0.1
}

func (v *drive) split(m *Motion, land float64) {
	if v.hop == 0 {
		return
	}
	m.leap(land-math.Sqrt(2*v.hop/gravity), v.hop, v.uneven)
}

// leap lifts both feet and the pelvis in free flight, highest at top; the right foot
// uneven seconds later than the left.
func (m *Motion) leap(top, height, uneven float64) {
	m.joints[leftFootLift].hops = append(m.joints[leftFootLift].hops, hop{top, height, 0.004, 1})
	m.joints[rightFootLift].hops = append(m.joints[rightFootLift].hops, hop{top + uneven, height, 0.004, 1})
	m.joints[pelvisDrop].hops = append(m.joints[pelvisDrop].hops, hop{top, height, 0.015, -1})
}

func (v *drive) turn(m *Motion, t, tc float64) {
	s := v.side
	m.joints[hipYaw].to(t-0.02, t+v.turnSpan+0.08, s*v.hip.from, 0)
	m.joints[shoulderYaw].to(t, t+v.turnSpan+0.06, s*v.shoulder.from, 0.1)
	m.joints[headYaw].to(t+0.05, t+v.turnSpan, s*18*deg, 0)
	m.joints[leanSide].to(t, tc-0.1, s*v.lean[0], 0)
	m.joints[leanForward].to(t, tc-0.05, v.lean[1], 0)
	m.joints[shoulderTilt].to(t, max(t+0.25, tc-v.pace*0.28), s*v.tilt.from, 0)
	v.nod.apply(m, tc)
	m.joints[pelvisDrop].to(t+0.05, tc-v.pace*0.30, v.knees[0], 0)
}

func (v *drive) takeBack(m *Motion, t, tc float64) {
	s, arm := v.side, m.Build.arm()
	t += v.takeLate
	end := max(t+0.22, min(t+v.takeSpan, tc-v.pace*0.42))
	m.joints[armAz].to(t, max(end, tc-v.pace*0.34), s*v.arm.from, 0.15)
	m.joints[armEl].to(t, end, v.armBackEl, 0)
	m.joints[armReach].to(t, end, v.reachBack*arm, 0)
	m.joints[racketAz].to(t, end, s*v.lagBack, 0)
	m.joints[racketEl].to(t, end, v.dipBack, 0.1)
	m.joints[racketRoll].to(t, end, v.roll.from, 0)
	if v.two {
		m.joints[baseAt].to(t, end, 1, 0)
		m.joints[poleForward].to(t, end, -0.1, 0)
		return
	}
	free := t + 0.55*(end-t)
	if s > 0 { // the free hand cannot follow the racket across the body
		free = t + 0.3*(end-t)
	}
	m.joints[hold].to(free-0.1, free+0.22, 0, 0)
	if s > 0 {
		m.joints[offAz].to(t, end, 5*deg, 0)
		m.joints[offEl].to(t, end, -15*deg, 0)
		m.joints[offReach].to(t, end, 0.85*arm, 0)
	}
}

// forward drops the racket, builds the lag, and swings through the ball.
func (v *drive) forward(m *Motion, tc float64) {
	s, arm, p := v.side, m.Build.arm(), v.pace
	m.joints[armEl].to(tc-p*v.dropTime[0], tc-p*v.dropTime[1], v.rise.from, 0)
	m.joints[armReach].to(tc-p*v.dropTime[0], tc-p*v.dropTime[1], v.reach.from*arm, 0)
	m.joints[racketEl].to(tc-p*v.dropTime[0], tc-p*(v.dropTime[1]-0.02), v.dip.from, 0)
	m.joints[racketAz].to(tc-p*v.lagRise[0], tc-p*v.lagRise[1], s*v.lag.from, 0)
	m.joints[hipYaw].pass(tc, p, v.hip.times(s))
	m.joints[shoulderYaw].pass(tc, p, v.shoulder.times(s))
	m.joints[shoulderTilt].pass(tc, p, v.tilt.times(s))
	m.joints[armAz].pass(tc, p, v.arm.times(s))
	m.joints[armEl].pass(tc, p, v.rise)
	m.joints[armReach].pass(tc, p, v.reach.times(arm))
	m.joints[racketAz].pass(tc, p, v.lag.times(s))
	m.joints[racketEl].pass(tc, p, v.dip)
	m.joints[racketRoll].pass(tc, p, v.roll)
	m.joints[pelvisDrop].pass(tc, p, hit{v.knees[0], v.knees[1], -0.04, 0.36, 0})
	if !v.two {
		m.joints[offReach].to(tc-p*0.25, tc+p*0.1, 0.55*arm, 0)
		m.joints[offEl].to(tc-p*0.25, tc+p*0.1, -50*deg, 0)
	}
}

// times scales the values of a forward swing, not its times.
func (h hit) times(k float64) hit {
	h.from, h.hit = k*h.from, k*h.hit
	return h
}

// step moves the pelvis to where the ball is struck, and the feet with it.
func (v *drive) step(m *Motion, d draw, turn, tc float64) {
	p := v.pace
	along := level(m.joints[heading].goal)
	across := level(m.joints[heading].goal + math.Pi/2)
	plant := tc - p*0.40
	run := along.Scale(v.run[0]).Add(across.Scale(v.run[1])).Scale(max(0, plant-turn-0.15))
	n := stepsIn(stepsFor(run.Norm()), tc-p*0.22-turn-0.06)
	run = run.Scale(min(1, 0.2*float64(n)/max(1e-9, run.Norm()))) // no further than the steps carry
	m.shift(turn+0.05, plant+0.08, run)
	m.shift(tc-p*0.34, tc+p*0.14, along.Scale(v.drift[0]).Add(across.Scale(v.drift[1])))

	dir := along.Scale(math.Cos(v.stance)).Add(across.Scale(v.side * math.Sin(v.stance))).Scale(v.base / 2)
	mid := m.pelvisAt(tc - p*0.12)
	back, front := right, left
	if v.side < 0 {
		back, front = left, right
	}
	yaw := m.joints[heading].goal + v.side*v.feet
	var final [2]footing
	final[back] = footing{mid.Sub(dir), yaw}
	final[front] = footing{mid.Add(dir), yaw - v.side*25*deg}
	m.footsteps(turn+0.06, tc-p*0.22, n, back, final, d)
}

// follow finishes the swing and brings the body back to ready.
func (v *drive) follow(m *Motion, tc float64) {
	s, arm := v.side, m.Build.arm()
	p := v.pace
	t0, t1 := tc+p*0.01, tc+p*(v.finish+0.08)
	m.joints[armAz].to(t0, t1, s*v.armFinish[0], 0.4)
	m.joints[armEl].to(t0, t1, v.armFinish[1], 0)
	m.joints[armReach].to(t0, t1, v.armFinish[2]*arm, 0)
	m.joints[racketEl].to(t0, t1, v.dipFinish, 0)
	m.joints[racketAz].to(t0+p*0.03, t1, s*v.wrap, 0.3)
	m.joints[hipYaw].to(t0+0.05, t1, min(s*m.joints[hipYaw].goal, -15*deg*v.through)*s, 0)
	m.joints[shoulderYaw].to(t0, t1, min(s*m.joints[shoulderYaw].goal, -30*deg*v.through)*s, 0)
}

// tune lowers the hands and loads the legs where m, the stroke as it stands, has hands
// that do not pass far enough below the ball, or legs that do not raise the body: the
// hands start lower; where the arm hangs already, the racket is held more level at
// contact, or the ball met higher. It reports whether nothing was left to do.
func (v *drive) tune(m *Motion, tc float64) bool {
	const n = 12
	low, hips := math.Inf(1), math.Inf(1)
	var at Pose
	for i := range n + 1 {
		m.body(tc-v.pace*0.30*float64(n-i)/n, &at)
		low = min(low, at.P[body.RightHand].Y)
		hips = min(hips, at.P[body.MidHip].Y)
	}
	ball := at.P[body.RacketTip].Lerp(at.P[body.RacketThroat], 0.5).Y
	done := true
	if need := v.lift - (at.P[body.MidHip].Y - hips); need > 1e-4 {
		v.knees[0] += need + 0.002
		done = v.knees[0] > 0.16*m.Build.Stature
	}
	if need := v.under - (ball - low); need > 1e-4 {
		v.dig(need+0.002, m.Build)
		done = false
	}
	return done
}

// dig lowers the hands' lowest against the ball by need, m.
func (v *drive) dig(need float64, b Build) {
	const hanging, flat = -72 * deg, -3 * deg
	arm := v.reach.from * b.arm()
	if el := max(hanging, v.rise.from-need/(arm*math.Cos(v.rise.from))); el < v.rise.from {
		need -= arm * (math.Sin(v.rise.from) - math.Sin(el))
		v.rise.from = el
	}
	head := (b.Racket+b.Throat)/2 - gripAt
	if el := min(flat, v.dip.hit+need/head); need > 0 && el > v.dip.hit {
		need -= head * (math.Sin(el) - math.Sin(v.dip.hit))
		v.dip.hit = el
	}
	if need > 0 {
		v.rise.hit += need / arm
	}
}
