package track

import (
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Lifted is what a lift gives, for tests: joints in camera axes at the nodes.
type Lifted struct {
	T     []float64
	P     [liftJoints][]geom.Vec3
	Theta [liftParams]float64
	Steps int
	Up    geom.Vec3
	Draw  func(rng *rand.Rand) [liftJoints][]geom.Vec3
}

const LiftJoints = liftJoints

// LiftImage lifts a window by a known eye.
func LiftImage(w *Window, eye camera.Pose, court bool, distance float64) *Lifted {
	w.Slow = 1
	m := &scene{w: w, t0: w.Frames[0].TimeUS, rough: roughOf, room: &room{}}
	unswap(w.Frames)
	m.settleTimes()
	m.rig = &Rig{Eyes: []camera.Pose{eye}, Offset: []float64{0}}
	m.collectImages(m.rig)
	m.measureNoise()
	l := m.newLift(&m.rig.Eyes[0], court, distance)
	if l == nil || !l.liftUp(distance, LiftPasses) {
		return nil
	}
	out := &Lifted{T: l.t, Theta: l.theta, Steps: l.steps, Up: l.up}
	for j := range liftJoints {
		for i := range l.t {
			out.P[body.Point(j)] = append(out.P[j], l.at(i, j))
		}
	}
	e := make([]float64, len(l.lam))
	var none [3][]float64 // three more that spread asks for
	for k := range none {
		none[k] = make([]float64, len(e))
	}
	var chains []*chain
	out.Draw = func(rng *rand.Rand) (p [liftJoints][]geom.Vec3) {
		var th [liftParams]float64
		l.draw(rng, e, &th)
		l.spread([][]float64{e, none[0], none[1], none[2]})
		if chains == nil {
			chains = l.chains()
		}
		for _, c := range chains {
			c.add(e, rng)
		}
		for j := range liftJoints {
			for i := range l.t {
				k := i*liftJoints + j
				p[j] = append(p[j], l.ray[j][i].Scale(l.lam[k]+e[k]))
			}
		}
		return p
	}
	return out
}

var LiftPasses = liftPasses
