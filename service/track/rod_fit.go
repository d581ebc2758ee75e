package track

import (
	"math"
	"slices"
	"sort"
)

// restTurn is the turn in a step, radians, under which the axis rests: a twentieth
// of what noise does to it.
const restTurn = 5e-4

// settleRod reweighs and improves in turn until the axis rests.
func settleRod(r *rod, sights []rodSight, hand, turn rough, passes int) bool {
	r.sights = nil // another list may have come into the same memory
	r.look(sights)
	for range passes {
		step, ok := r.step(hand, turn, true)
		if !ok {
			return false
		}
		if step < restTurn {
			break
		}
	}
	return true
}

// settleBursts settles a rod and, where it was seen in space, follows the bursts of
// its motion: a hand that takes the racket back in a sweep and stops jerks a hundred
// times more than one that waits. One view's own choices of depth would pass for
// bursts.
func (m *scene) settleBursts(r *rod, sights []rodSight, hand, turn rough) bool {
	if m.oneEye() {
		return settleRod(r, sights, hand, turn, 4)
	}
	r.sights = nil
	r.look(sights)
	for k := range burstSteps {
		if k < 3 {
			r.followBursts(hand, turn)
		}
		step, ok := r.step(hand, turn, true)
		if !ok {
			return false
		}
		if k >= 2 && step < restBursts {
			break
		}
	}
	return true
}

// burstSteps bounds the steps of settleBursts; in the first three the bursts follow. A step
// turns the axis by a third of the one before, so that what is left after one under restBursts,
// radians, is a thousandth: a tenth or less of what noise does to it.
const (
	burstSteps = 6
	restBursts = 6 * restTurn
)

// fitRod fits the levels of the hand's and the axis's motion near impact by
// their evidence, on a small even grid around it.
func fitRod(r *rod, sights []rodSight, hand, turn rough) (handLevel, turnLevel float64) {
	const before, after, step = 27, 17, 0.012
	at := r.g.t[r.g.brk]
	from := sort.Search(len(sights), func(i int) bool { return sights[i].t > at-before*step })
	to := sort.Search(len(sights), func(i int) bool { return sights[i].t >= at+after*step })
	near := slices.Clone(sights[from:to])
	start := r.onto(newUniform(at, step, before, after))
	q := newRod(r.room, start.g, slices.Clone(start.grip), slices.Clone(start.axis))
	q.tip = r.tip
	score := func(h, t rough) float64 {
		if _, ok := q.improve(near, h, t); !ok { // from the last trial's solution, which is near
			q.setOut(start)
			return math.Inf(-1)
		}
		return q.evidence(near)
	}
	fit := func(level float64, f func(level float64) float64) float64 {
		x0 := math.Log(level)
		return math.Exp(vertexMax(func(x float64) float64 {
			d := (x - x0) / math.Ln10
			return f(math.Exp(x)) - 0.5*d*d
		}, x0, 1.4, 4.6))
	}
	turn.level = fit(turn.level, func(v float64) float64 { t := turn; t.level = v; return score(hand, t) })
	hand.level = fit(hand.level, func(v float64) float64 { h := hand; h.level = v; return score(h, turn) })
	return hand.level, turn.level
}
