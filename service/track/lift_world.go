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
	for _, w := range l.worlds {
		j := w.joint
		if j < 0 {
			j = liftJoints
		}
		for i := w.node; i >= 0 && w.t-l.t[i] < 2*hintReach; i-- {
			l.hintAt(sum, weight, i, j, w)
		}
		for i := w.node + 1; i < len(l.t) && l.t[i]-w.t < 2*hintReach; i++ {
			l.hintAt(sum, weight, i, j, w)
		}
	}
	for j := range l.hint {
		for i := range l.t {
			k := j*len(l.t) + i
			l.hint[j][i] = sum[k] / weight[k] // NaN without any
		}
	}
}

func (l *lift) hintAt(sum, weight []float64, i, j int, w worldDepth) {
	x := (w.t - l.t[i]) / hintReach
	f := math.Exp(-0.5 * x * x)
	sum[j*len(l.t)+i] += f * w.z
	weight[j*len(l.t)+i] += f
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
