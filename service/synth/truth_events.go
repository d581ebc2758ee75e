package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// instants are the events of one swing as times of the motion; NaN where absent.
type instants [phase.NumEvents]float64

// events finds every event by the words of measures.md. The order matters: later
// definitions lean on earlier events.
func (f *fine) events() instants {
	var e instants
	for i := range e {
		e[i] = math.NaN()
	}
	e[phase.Contact] = f.t[f.hit]
	if f.k.Stroke == body.Serve {
		e[phase.BallRelease] = f.k.Release
	}
	from := f.turnWindow()
	start := f.turnStart(from)
	e[phase.TurnStart] = f.t[start]
	e[phase.TurnComplete] = f.turnComplete(from, start)
	e[phase.SplitLanding] = f.splitLanding(f.t[start])
	e[phase.ForwardStart] = f.forwardStart()
	e[phase.MaxLag] = f.maxLag(e[phase.ForwardStart])
	lowFrom := e[phase.TurnComplete]
	if f.k.Stroke.OverheadMotion() {
		e[phase.Trophy] = f.trophy(e)
		lowFrom = e[phase.Trophy]
	}
	e[phase.RacketLow] = f.racketLow(lowFrom)
	e[phase.DropStart] = f.dropStart(e[phase.TurnStart], e[phase.RacketLow])
	e[phase.FollowEnd] = f.followEnd()
	e[phase.Recovered] = f.recovered(e[phase.FollowEnd])
	return e
}

// turnWindow is the first sample in which the turn is searched.
func (f *fine) turnWindow() int {
	switch f.k.Stroke {
	case body.Serve:
		return f.at(f.k.Release - 1.0)
	case body.Overhead:
		return f.at(f.k.Contact - 2.5)
	}
	return f.at(f.k.Contact - 2.0)
}

func (f *fine) turnStart(from int) int {
	fast := from
	for i := from; i <= f.hit; i++ {
		if f.shoulderRate[i] > f.shoulderRate[fast] {
			fast = i
		}
	}
	bar := 0.20 * f.hair.threshold * f.shoulderRate[fast]
	for i := fast; i > from; i-- {
		if f.shoulderRate[i] < bar {
			return i
		}
	}
	return from
}

func (f *fine) turnComplete(from, start int) float64 {
	most := math.Inf(-1)
	for i := from; i <= f.hit; i++ {
		most = max(most, f.shoulderTurn[i])
	}
	bar := (1 - 0.03*f.hair.threshold) * most
	for i := start; i <= f.hit; i++ {
		if f.shoulderTurn[i] >= bar {
			return f.t[i]
		}
	}
	return math.NaN()
}

// splitLanding looks for hops of the lower ankle over its standing level.
func (f *fine) splitLanding(turn float64) float64 {
	level := f.m.Build.AnkleHeight
	low := func(i int) float64 {
		return min(f.pos[body.LeftAnkle][i].Y, f.pos[body.RightAnkle][i].Y) - level
	}
	landing, up := math.NaN(), false
	for i := f.at(turn - 1.6); i < f.at(turn+0.3); i++ {
		h := low(i)
		if h >= 0.02*f.hair.threshold {
			up = true
		}
		if up && h <= 0.005*f.hair.threshold {
			up = false
			if f.t[i] >= turn-1.0 {
				landing = f.t[i]
			}
		}
	}
	return landing
}

// towards is the horizontal direction of the head centre over the last 40 ms before contact.
func (f *fine) towards() geom.Vec3 {
	return f.center[f.hit].Sub(f.center[f.at(f.t[f.hit]-0.040)]).Flat().Unit()
}

func (f *fine) forwardStart() float64 {
	dir := f.towards()
	bar := 0.05 * f.hair.threshold * f.gripV[f.hit].Dot(dir)
	for i := f.hit; i > 0; i-- {
		if f.gripV[i-1].Dot(dir) < bar {
			return f.t[i]
		}
	}
	return math.NaN()
}

func (f *fine) maxLag(forward float64) float64 {
	if math.IsNaN(forward) {
		return forward
	}
	best, at := math.Inf(-1), math.NaN()
	bar := max(1, 0.20*f.hair.threshold*f.gripV[f.hit].Norm())
	for i := f.at(forward); i <= f.hit; i++ {
		if f.gripV[i].Norm() > bar && f.lag(i) > best {
			best, at = f.lag(i), f.t[i]
		}
	}
	return at
}

func (f *fine) trophy(e instants) float64 {
	from := e[phase.BallRelease]
	if f.k.Stroke == body.Overhead {
		from = e[phase.TurnStart]
	}
	best, at := -1.0, math.NaN()
	for i := f.at(from); i <= f.hit; i++ {
		if k := f.knee(f.back, i); k > best {
			best, at = k, f.t[i]
		}
	}
	return at
}

func (f *fine) racketLow(from float64) float64 {
	if math.IsNaN(from) {
		return from
	}
	a := f.at(from)
	low := a
	for i := a; i <= f.hit; i++ {
		if f.tip[i].Y < f.tip[low].Y {
			low = i
		}
	}
	if low == a || low == f.hit {
		return math.NaN()
	}
	return f.t[low]
}

func (f *fine) dropStart(turn, low float64) float64 {
	if math.IsNaN(low) {
		return low
	}
	b := f.at(low)
	bar := f.tip[b].Y + 0.05*f.hair.threshold
	for i := b - 1; i > f.at(turn); i-- {
		y := f.tip[i].Y
		if y >= bar && y >= f.tip[i-1].Y && y >= f.tip[i+1].Y {
			return f.t[i]
		}
	}
	return math.NaN()
}

func (f *fine) followEnd() float64 {
	bar := 0.20 * f.hair.threshold * f.tipV[f.hit].Norm()
	for i := f.hit + 1; i < len(f.t); i++ {
		if f.tipV[i].Norm() < bar {
			return f.t[i]
		}
	}
	return math.NaN()
}

func (f *fine) recovered(follow float64) float64 {
	if math.IsNaN(follow) {
		return follow
	}
	run := 0
	need := int(0.1 / fineStep)
	for i := f.at(follow); i < min(len(f.t), f.at(follow+2.0)+need); i++ {
		ok := f.tip[i].Sub(f.midHip[i]).Dot(f.x) > 0 && math.Abs(f.shoulderTurn[i]) < 20*deg*f.hair.threshold
		if !ok {
			run = 0
			continue
		}
		if run++; run > need {
			if t := f.t[i-need]; t <= follow+2.0 {
				return t
			}
			return math.NaN()
		}
	}
	return math.NaN()
}
