package synth

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// striking says what an impact takes: shares of the tip's and of the hand's speed.
type striking struct{ tip, hand, rise, hold float64 }

// strike breaks the motion at tc so that the tip loses the wanted share of its speed.
// The tip's velocity is linear in the coordinates' rates, v = v₀ + Σ Jᵢ qᵢ′; the arm
// loses its share, and the racket's two angles the share y for which |v| falls as
// wanted.
func (m *Motion) strike(tc float64, w striking) {
	var q [numJoints]float64
	for i := range q {
		q[i] = m.joints[i].at(tc)
	}
	pull := func(js ...joint) geom.Vec3 {
		var sum geom.Vec3
		for _, j := range js {
			sum = sum.Add(m.tipPull(q, j).Scale(m.joints[j].rateBefore(tc)))
		}
		return sum
	}
	v := velocity(m, tc, -1, body.RacketTip)
	arm, racket := pull(armAz, armEl).Scale(w.hand), pull(racketAz, racketEl)
	low, high := 0.0, 1.6
	for range 40 {
		y := (low + high) / 2
		if v.Sub(arm).Sub(racket.Scale(y)).Norm() > (1-w.tip)*v.Norm() {
			low = y
		} else {
			high = y
		}
	}
	for _, j := range []joint{armAz, armEl} {
		m.joints[j].strike(blow{tc, w.hand * m.joints[j].rateBefore(tc), w.rise, w.hold})
	}
	for _, j := range []joint{racketAz, racketEl} {
		m.joints[j].strike(blow{tc, low * m.joints[j].rateBefore(tc), w.rise, w.hold})
	}
}

// tipPull is ∂tip/∂q for one coordinate.
func (m *Motion) tipPull(q [numJoints]float64, j joint) geom.Vec3 {
	const h = 1e-5
	var a, b Pose
	up, down := q, q
	up[j] += h
	down[j] -= h
	m.shape(up, &a)
	m.shape(down, &b)
	return a.P[body.RacketTip].Sub(b.P[body.RacketTip]).Scale(1 / (2 * h))
}

// velocity is the one-sided velocity of a point just before (side −1) or after (+1) t,
// before mirroring.
func velocity(m *Motion, t float64, side float64, pt body.Point) geom.Vec3 {
	h := 1e-4 * side
	var p [3]Pose
	for i := range p {
		m.body(t+float64(i)*h, &p[i])
	}
	return p[0].P[pt].Scale(-3).Add(p[1].P[pt].Scale(4)).Sub(p[2].P[pt]).Scale(1 / (2 * h))
}
