package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

// World points of a pose estimator, in camera axes, help a lift twice: as rows
// of the solve, and, averaged over a short time, in the choice of signs.

const (
	// worldSD is the sd of a world point's depth, metres, and worldMemory how long its error
	// lasts, seconds.
	worldSD     = 0.045
	worldMemory = 0.15
	// hintReach is the time over which world depths are averaged for the signs, seconds.
	hintReach = 0.05
	// hintSD is the sd of a difference of two such depths, metres.
	hintSD = 0.07
	// hipSD is the sd of mid-hip's distance against the others', metres; what all
	// frames share is in the camera's pose.
	hipSD = 0.1
)

// worldDepths lists what world points in camera axes say of the joints' distances.
func (m *scene) worldDepths(frames []body.Frame) (out []worldDepth) {
	step := math.Inf(1)
	if n := len(frames); n > 1 {
		step = math.Max(1e-3, float64(frames[n-1].TimeUS-frames[0].TimeUS)*1e-6/float64(n-1))
	}
	sd := worldSD * math.Sqrt(1+worldMemory/step)
	out = make([]worldDepth, 0, liftJoints*len(frames))
	for i := range frames {
		t := float64(frames[i].TimeUS-m.t0) * 1e-6
		for j := range liftJoints {
			if s := frames[i].World[j]; s.Score > 0 {
				out = append(out, worldDepth{t: t, joint: j, z: float64(s.Z), sd: sd})
			}
		}
	}
	return out
}

// hipDepths lists how far mid-hip was from the camera, as its smoothed course has it.
func (m *scene) hipDepths(hips []camera.HipFix) (out []worldDepth) {
	at := m.hipCourse(hips)
	if at == nil {
		return nil
	}
	for _, h := range hips {
		t := h.Time - float64(m.t0)*1e-6
		out = append(out, worldDepth{t: t, joint: -1, z: at(t).Z, sd: hipSD})
	}
	return out
}

// takeHints averages the world depths about each node.
func (l *lift) takeHints() {
	for j := range l.hint {
		l.hint[j] = make([]float64, len(l.t))
	}
	sum, weight := make([]float64, len(l.hint)*len(l.t)), make([]float64, len(l.hint)*len(l.t))
	near, from, at := make([]float64, 0, 16), 0, math.NaN() // weights of the nodes from from on about the instant at
	for _, w := range l.worlds {
		if w.t != at { // those of a frame come together
			from = w.node
			for from > 0 && w.t-l.t[from-1] < 2*hintReach {
				from--
			}
			near = near[:0]
			for i := from; i < len(l.t) && l.t[i]-w.t < 2*hintReach; i++ {
				x := (w.t - l.t[i]) / hintReach
				near = append(near, math.Exp(-0.5*x*x))
			}
			at = w.t
		}
		j := w.joint
		if j < 0 {
			j = liftJoints
		}
		for i, f := range near {
			k := j*len(l.t) + from + i
			sum[k] += f * w.z
			weight[k] += f
		}
	}
	for j := range l.hint {
		for i := range l.t {
			k := j*len(l.t) + i
			l.hint[j][i] = sum[k] / weight[k] // NaN without any
		}
	}
}

// heed adds to the choices' costs how far their depths (of points p beyond points q) are from
// what world points show.
func (l *lift) heed(w *fourWays, p, q [2]body.Point) {
	if l.hint[0] == nil {
		return
	}
	for i := range w.cost {
		weight := l.span[i] / (l.span[i] + worldMemory)
		for d := range 2 {
			seen := l.hint[p[d]][i] - l.hint[q[d]][i]
			if math.IsNaN(seen) {
				continue
			}
			for k := range 4 {
				x := (w.depth[i][k][d] - seen) / hintSD
				w.cost[i][k] += weight * math.Min(x*x, 16)
			}
		}
	}
}

// worldSums is what world points say of a joint's distance at a node, x, and at the next, y:
// Σ w·(f·x + g·y − z)², w their weights.
type worldSums struct{ ff, fg, gg, fz, gz float64 }

// put adds a scalar of weight w that is z when f·x + g·y should be.
func (s *worldSums) put(f, g, z, w float64) {
	s.ff += w * f * f
	s.fg += w * f * g
	s.gg += w * g * g
	s.fz += w * f * z
	s.gz += w * g * z
}

// beyond is a joint's distance less mid-hip's, as coefficients of distances at a node; for
// joint −1 it is mid-hip's own.
type beyond struct {
	n     int
	joint [3]int
	c     [3]float64
}

func beyondHips(joint int) beyond {
	const l, r = int(body.LeftHip), int(body.RightHip)
	switch joint {
	case -1:
		return beyond{2, [3]int{l, r}, [3]float64{0.5, 0.5}}
	case l:
		return beyond{2, [3]int{l, r}, [3]float64{0.5, -0.5}}
	case r:
		return beyond{2, [3]int{l, r}, [3]float64{-0.5, 0.5}}
	}
	b := beyond{3, [3]int{joint, l, r}, [3]float64{1, -0.5, -0.5}}
	if joint > l { // rising
		b.joint, b.c = [3]int{l, r, joint}, [3]float64{-0.5, -0.5, 1}
	}
	return b
}

// of is what it is at present, of the distances at a node.
func (b *beyond) of(lam []float64) (x float64) {
	for k := range b.n {
		x += b.c[k] * lam[b.joint[k]]
	}
	return x
}

// worldShapes are those of mid-hip and of the joints.
var worldShapes = func() (s [liftJoints + 1]beyond) {
	for j := range s {
		s[j] = beyondHips(j - 1)
	}
	return s
}()

// addWorlds adds what a pose estimator says of the depths: the difference from
// mid-hip, between two nodes.
func (l *lift) addWorlds() {
	if len(l.worlds) == 0 {
		return
	}
	const each = liftJoints + 1
	if l.shows == nil {
		l.shows = make([]worldSums, each*len(l.t))
	}
	clear(l.shows)
	for k := range l.worlds {
		w := &l.worlds[k]
		b := &worldShapes[w.joint+1]
		q := l.lam[w.node*liftJoints:]
		f, g := 1-w.share, w.share
		e := w.z - f*b.of(q) - g*b.of(q[liftJoints:])
		v := 1 / (w.sd * w.sd)
		l.shows[w.node*each+w.joint+1].put(f, g, e, v*robustWeight(e*e*v, 1))
	}
	hb, a := l.a.hb, l.a.a // element (i, j) stands at (i+1)·hb + j
	for at := range l.shows {
		s := &l.shows[at]
		if s.ff == 0 && s.gg == 0 {
			continue
		}
		b, i := &worldShapes[at%each], at/each*liftJoints
		for p := range b.n {
			k, c := i+b.joint[p], b.c[p]
			l.g[k] += c * s.fz
			l.g[k+liftJoints] += c * s.gz
			x, y := a[(k+1)*hb:], a[(k+liftJoints+1)*hb:]
			for q := range b.n {
				m, f := i+b.joint[q], c*b.c[q]
				if q <= p {
					x[m] += f * s.ff
					y[m+liftJoints] += f * s.gg
				}
				y[m] += f * s.fg
			}
		}
	}
}
