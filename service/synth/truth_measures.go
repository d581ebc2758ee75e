package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// measures computes every figure of measures.md from the fine motion; a figure
// whose event is absent is left out.
func (f *fine) measures(e instants) map[string]float64 {
	v := map[string]float64{}
	f.tempos(v, e)
	f.speeds(v, e)
	f.lags(v, e)
	f.paths(v, e)
	f.takeBacks(v, e)
	f.turns(v, e)
	f.armsAt(v, e)
	f.contact(v)
	f.posture(v)
	f.legs(v, e)
	f.chain(v, e)
	f.ballFigures(v)
	v["body.stature"] = f.m.Build.Stature
	for name, x := range v {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			delete(v, name)
		}
	}
	return v
}

// span is the sample range between two times; ok is false when either is absent or out of order.
func (f *fine) span(a, b float64) (i, j int, ok bool) {
	if math.IsNaN(a) || math.IsNaN(b) || b < a {
		return 0, 0, false
	}
	i, j = f.at(a), f.at(b)
	return i, min(j, f.limit(b)), true
}

// limit keeps a stretch that ends at contact on the side before it.
func (f *fine) limit(b float64) int {
	if b <= f.t[f.hit] {
		return f.hit
	}
	return len(f.t) - 1
}

func pathLength(p []geom.Vec3, i, j int) float64 {
	sum := 0.0
	for n := i; n < j; n++ {
		sum += p[n+1].Sub(p[n]).Norm()
	}
	return sum
}

// most is the largest value of a figure over a stretch.
func most(i, j int, of func(int) float64) float64 {
	best := math.Inf(-1)
	for n := i; n <= j; n++ {
		best = max(best, of(n))
	}
	return best
}

func (f *fine) tempos(v map[string]float64, e instants) {
	v["tempo.split_to_turn"] = e[phase.TurnStart] - e[phase.SplitLanding]
	v["tempo.preparation"] = e[phase.ForwardStart] - e[phase.TurnStart]
	v["tempo.forward_swing"] = e[phase.Contact] - e[phase.ForwardStart]
	v["tempo.follow_through"] = e[phase.FollowEnd] - e[phase.Contact]
}

func (f *fine) speeds(v map[string]float64, e instants) {
	centerV := f.rates(f.center)
	v["racket_speed.tip.contact"] = f.tipV[f.hit].Norm()
	v["racket_speed.tip.peak"] = most(f.turnWindow(), f.hit, func(i int) float64 { return f.tipV[i].Norm() })
	v["racket_speed.head.contact"] = centerV[f.hit].Norm()
	v["racket_speed.hand.contact"] = f.gripV[f.hit].Norm()
	if i, j, ok := f.span(e[phase.ForwardStart], e[phase.Contact]); ok && j > i {
		v["lag.tip_path"] = pathLength(f.tip, i, j)
		v["racket_speed.tip.mean_forward"] = v["lag.tip_path"] / (f.t[j] - f.t[i])
	}
}

func (f *fine) lags(v map[string]float64, e instants) {
	v["lag.contact"] = f.lag(f.hit)
	drop := e.drop()
	if i, j, ok := f.span(e[phase.MaxLag], e[phase.Contact]); ok {
		v["lag.max"] = f.lag(i)
		v["lag.release_time"] = e[phase.Contact] - e[phase.MaxLag]
		if j-i > 4 {
			v["lag.release_rate"] = most(i+1, j-1, func(n int) float64 { return (f.lag(n-1) - f.lag(n+1)) / (2 * fineStep) })
		}
	}
	if i, j, ok := f.span(drop, e[phase.MaxLag]); ok {
		v["lag.snap_back"] = pathLength(f.tip, i, j)
	}
	if i, j, ok := f.span(drop, e[phase.Contact]); ok {
		v["lag.tip_wrap"] = most(i, j, func(n int) float64 {
			d := f.tip[n].Sub(f.midHip[n])
			if d.Dot(f.x) >= 0 {
				return math.Inf(-1)
			}
			return -d.Dot(f.h)
		})
	}
}

// drop is DROP_START, or TURN_COMPLETE where that is absent.
func (e instants) drop() float64 {
	if math.IsNaN(e[phase.DropStart]) {
		return e[phase.TurnComplete]
	}
	return e[phase.DropStart]
}

func (f *fine) paths(v map[string]float64, e instants) {
	d := f.center[f.hit].Sub(f.center[f.at(f.t[f.hit]-0.040)])
	v["path.rise_angle"] = math.Atan2(d.Y, d.Flat().Norm()) / deg
	v["path.out_angle"] = math.Atan2(d.Dot(f.h), d.Dot(f.x)) / deg
	y := f.center[f.hit].Y
	if low := e[phase.RacketLow]; !math.IsNaN(low) {
		v["path.tip_drop"] = y - f.tip[f.at(low)].Y
	}
	if i, j, ok := f.span(e[phase.ForwardStart], e[phase.Contact]); ok {
		v["path.hand_drop"] = y + most(i, j, func(n int) float64 { return -f.grip[n].Y })
	}
}

func (f *fine) takeBacks(v map[string]float64, e instants) {
	if d := e.drop(); !math.IsNaN(d) {
		i := f.at(d)
		v["take_back.tip_above_hands"] = f.tip[i].Y - f.grip[i].Y
	}
	if c := e[phase.TurnComplete]; !math.IsNaN(c) {
		i := f.at(c)
		v["take_back.hands_height"] = f.grip[i].Y - f.midHip[i].Y
		v["take_back.tip_side"] = f.tip[i].Sub(f.grip[i]).Dot(f.h)
		ear := f.pos[body.LeftEar][i].Lerp(f.pos[body.RightEar][i], 0.5)
		look := f.pos[body.Nose][i].Sub(ear)
		turn := f.shoulderTurn[i] - math.Atan2(look.Dot(f.h), look.Dot(f.x))
		v["head.over_shoulder"] = turn / deg
	}
}

func (f *fine) turns(v map[string]float64, e instants) {
	from := f.turnWindow()
	for name, turn := range map[string][]float64{"turn.shoulders": f.shoulderTurn, "turn.hips": f.hipTurn} {
		v[name+".max"] = most(from, f.hit, func(n int) float64 { return turn[n] }) / deg
		v[name+".contact"] = turn[f.hit] / deg
		if fs := e[phase.ForwardStart]; !math.IsNaN(fs) {
			v[name+".forward_range"] = (turn[f.at(fs)] - turn[f.hit]) / deg
		}
	}
	gap := func(n int) float64 { return (f.shoulderTurn[n] - f.hipTurn[n]) / deg }
	v["turn.separation.contact"] = gap(f.hit)
	v["turn.separation.max"] = most(f.at(e[phase.TurnStart]), f.hit, gap)
	if fs := e[phase.ForwardStart]; !math.IsNaN(fs) {
		v["turn.separation.forward_start"] = gap(f.at(fs))
	}
}

func (f *fine) armsAt(v map[string]float64, e instants) {
	hitting := func(i int) float64 { return flexion(f.pos[f.hSh][i], f.pos[f.hitElbow][i], f.pos[f.hitWrist][i]) }
	support := func(i int) float64 { return flexion(f.pos[f.oSh][i], f.pos[f.oElbow][i], f.pos[f.oWrist][i]) }
	two := f.k.Stroke == body.TwoHandedBackhand
	v["elbow.hitting.contact"] = hitting(f.hit)
	if two {
		v["elbow.support.contact"] = support(f.hit)
	}
	i, j, ok := f.span(e[phase.ForwardStart], e[phase.Contact])
	if !ok {
		return
	}
	v["elbow.hitting.forward_start"] = hitting(i)
	if two {
		v["elbow.support.forward_start"] = support(i)
	}
	v["wrist.racket_forearm.max"] = most(i, j, func(n int) float64 {
		return geom.Between(f.pos[f.hitWrist][n].Sub(f.pos[f.hitElbow][n]), f.u[n]).Degrees()
	})
}

func (f *fine) contact(v map[string]float64) {
	i := f.hit
	c, hip := f.center[i], f.midHip[i]
	v["contact.height"] = c.Y
	v["contact.height_waist"] = c.Y - hip.Y
	v["contact.ahead"] = c.Sub(hip).Dot(f.x)
	v["spacing.hands"] = f.grip[i].Sub(hip).Dot(f.h)
	v["spacing.clearance"] = v["spacing.hands"] - f.pos[body.LeftHip][i].Sub(f.pos[body.RightHip][i]).Norm()/2
	v["spacing.reach"] = c.Sub(f.midShoulder[i]).Flat().Norm()
}

func (f *fine) posture(v map[string]float64) {
	i := f.hit
	line := f.pos[body.RightShoulder][i].Sub(f.pos[body.LeftShoulder][i]).Scale(f.side)
	v["posture.shoulder_tilt"] = math.Atan2(line.Y, line.Flat().Norm()) / deg
	up := f.midShoulder[i].Sub(f.midHip[i])
	v["posture.lean_side"] = math.Atan2(up.Dot(f.h), up.Y) / deg
	v["posture.lean_forward"] = math.Atan2(up.Dot(f.x), up.Y) / deg
	v["head.stillness"] = f.stillness()
}

// stillness is the RMS wander of the head against mid-shoulder, contact ± 60 ms.
func (f *fine) stillness() float64 {
	a, b := f.at(f.t[f.hit]-0.060), f.at(f.t[f.hit]+0.060)
	var mean geom.Vec3
	at := func(i int) geom.Vec3 {
		return f.pos[body.LeftEar][i].Lerp(f.pos[body.RightEar][i], 0.5).Sub(f.midShoulder[i])
	}
	n := float64(b - a + 1)
	for i := a; i <= b; i++ {
		mean = mean.Add(at(i).Scale(1 / n))
	}
	sum := 0.0
	for i := a; i <= b; i++ {
		d := at(i).Sub(mean)
		sum += d.Dot(d) / n
	}
	return math.Sqrt(sum)
}

func (f *fine) legs(v map[string]float64, e instants) {
	when := e[phase.SplitLanding]
	if math.IsNaN(when) {
		when = e[phase.TurnStart]
	}
	ankle := [2][]geom.Vec3{f.pos[body.LeftAnkle], f.pos[body.RightAnkle]}
	i := f.at(when)
	v["legs.base_width"] = ankle[left][i].Sub(ankle[right][i]).Norm() / f.m.Build.Stature
	from := f.at(e[phase.TurnStart])
	v["legs.knee_back.max"] = most(from, f.hit, func(n int) float64 { return f.knee(f.back, n) })
	v["legs.knee_front.max"] = most(from, f.hit, func(n int) float64 { return f.knee(f.front, n) })
	if a, b, ok := f.span(e[phase.TurnComplete], e[phase.Contact]); ok {
		v["legs.rise"] = f.midHip[f.hit].Y + most(a, b, func(n int) float64 { return -f.midHip[n].Y })
	}
	d := ankle[f.front][f.hit].Sub(ankle[f.back][f.hit])
	v["legs.stance"] = math.Atan2(d.Dot(f.h), d.Dot(f.x)) / deg
}

func (f *fine) chain(v map[string]float64, e instants) {
	start := e[phase.TurnComplete]
	if f.k.Stroke.OverheadMotion() {
		start = e[phase.Trophy]
	}
	a, b, ok := f.span(start, e[phase.Contact])
	if !ok || b-a < 4 {
		return
	}
	axisV := f.rates(f.u)
	peak := func(of func(int) float64) float64 {
		at := a
		for i := a; i <= b; i++ {
			if of(i) > of(at) {
				at = i
			}
		}
		return f.t[at]
	}
	hips := peak(func(i int) float64 { return -f.hipRate[i] })
	order := []float64{
		hips,
		peak(func(i int) float64 { return -f.shoulderRate[i] }),
		peak(func(i int) float64 { return f.gripV[i].Norm() }),
		peak(func(i int) float64 { return f.tipV[i].Norm() }),
	}
	good := 0.0
	for i := range 3 {
		if order[i+1] >= order[i]-0.005 {
			good++
		}
	}
	v["chain.in_order"] = good / 3
	v["chain.hips_to_racket"] = peak(func(i int) float64 { return axisV[i].Norm() }) - hips
}

func (f *fine) ballFigures(v map[string]float64) {
	if !f.k.Ball {
		return
	}
	v["ball.speed_in"], v["ball.speed_out"] = f.k.In.Norm(), f.k.Out.Norm()
	if f.k.Stroke != body.Serve {
		return
	}
	top := math.Inf(-1)
	for t := f.k.Release - 0.3; t <= f.k.Contact; t += 0.001 {
		if p, ok := f.m.ball(t); ok {
			top = max(top, p.Y)
		}
	}
	v["serve.toss_height"] = top
}
