package track

import (
	"fmt"
	"math"

	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Lifted is what a lift gives, for tests: joints in camera axes at the nodes.
type Lifted struct {
	T                    []float64
	P                    [liftJoints][]geom.Vec3
	Theta                [liftParams]float64
	Cost                 float64
	Steps, Tries, Rivals int
	Up                   geom.Vec3
	Draw                 func(rng *rand.Rand) [liftJoints][]geom.Vec3
}

const LiftJoints = liftJoints

// LiftImage lifts a window by a known eye.
func LiftImage(w *Window, eye camera.Pose, court bool, distance float64) *Lifted {
	w.Slow = 1
	m := &scene{w: w, t0: w.Frames[0].TimeUS, rough: roughOf}
	unswap(w.Frames)
	m.rig = &Rig{Eyes: []camera.Pose{eye}, Offset: []float64{0}}
	m.collectImages(m.rig)
	m.measureNoise()
	l := m.newLift(&m.rig.Eyes[0], court, distance)
	if l == nil || !l.liftUp(distance, LiftPasses) {
		return nil
	}
	if Truth != nil {
		est := append([]float64(nil), l.lam...)
		th := l.theta
		cost := l.cost
		for i, t := range l.t {
			z := Truth(t)
			for j := range liftJoints {
				l.lam[i*liftJoints+j] = z[j]
			}
		}
		l.theta = [liftParams]float64{}
		l.theta[0] = math.Log(TrueStature)
		parts := func() []float64 {
			var out []float64
			l.costNow()
			all := l.cost
			l.cost, l.only = 0, true
			l.addSmoothness()
			out = append(out, all, l.cost)
			l.cost = 0
			for i := range l.t {
				l.addSegments(i)
			}
			out = append(out, l.cost)
			l.cost = 0
			keep := beliefs
			for b := range keep {
				beliefs = keep[b : b+1]
				l.cost = 0
				for i := range l.t {
					l.addPriors(i)
				}
				out = append(out, l.cost)
			}
			beliefs = keep
			l.cost = 0
			l.addLongest()
			l.addShared()
			out = append(out, l.cost)
			l.only = false
			return out
		}
		l.settle(2)
		l.settle(8)
		a := parts()
		fmt.Printf("cost est %.1f from truth %.1f\n", cost, a[0])
		if !FromTruth {
			copy(l.lam, est)
			l.theta = th
			l.improve()
			b := parts()
			if l.cost > -1 {
				for i := range a {
					fmt.Printf(" %d: %.1f/%.1f", i-3, a[i], b[i])
				}
				fmt.Println()
			}
		}
	}
	out := &Lifted{T: l.t, Theta: l.theta, Cost: l.cost, Steps: l.steps, Tries: l.tries, Rivals: len(l.rivals), Up: l.up}
	for j := range liftJoints {
		for i := range l.t {
			out.P[body.Point(j)] = append(out.P[j], l.at(i, j))
		}
	}
	e := make([]float64, len(l.lam))
	var chains []*chain
	out.Draw = func(rng *rand.Rand) (p [liftJoints][]geom.Vec3) {
		var th [liftParams]float64
		l.draw(rng, e, &th)
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

var LiftPasses = 12

// BeliefsAt returns the standardised residuals of the beliefs for a body in
// world axes whose Y is up.
func BeliefsAt(p *[body.NumPoints]geom.Vec3, stature float64) []float64 {
	s := &stanceAt{up: geom.Vec3{Y: 1}, stature: stature}
	for j := range liftJoints {
		s.p[j] = p[j]
	}
	var out []float64
	for i := range beliefs {
		out = append(out, beliefs[i].of(s))
	}
	return out
}

// Ties returns the lengths of the ties over stature.
func Ties(p *[body.NumPoints]geom.Vec3, stature float64) (names []int, out []float64) {
	end := func(e [2]int) geom.Vec3 {
		if e[1] < 0 {
			return p[e[0]]
		}
		return p[e[0]].Lerp(p[e[1]], 0.5)
	}
	for _, t := range ties {
		names = append(names, t.kind)
		out = append(out, end(t.a).Sub(end(t.b)).Norm()/stature/shares[t.kind].mean)
	}
	return names, out
}

var (
	Truth       func(t float64) [liftJoints]float64
	TrueStature float64
	FromTruth   bool
)

func SetRounds(n int) { liftRounds = n }
