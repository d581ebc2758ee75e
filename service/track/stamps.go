package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// A camera's frames seldom come at quite even times. Either the sensor's own
// instants wander, and the times are right; or an even sensor's frames were
// stamped late by what the device was doing, and the times are wrong. At 30 m/s
// a millisecond is 3 cm, so it matters which. What moves fast tells: its path is
// smooth only in the times at which it was really seen.

// Limits of what is taken for wandering, as shares of the step between frames:
// under the first it moves nothing, over the second the rate itself varies.
const (
	wanderLeast = 0.002
	wanderMost  = 0.25
)

// stampTrust is the variance of the regression's slope over what it would be if
// fourth differences of noise hung together no more than noise: C(16, 8)/70².
const stampTrust = 12870.0 / (70 * 70)

// settleTimes decides for each camera whether its frames' times wander truly, and
// where they do not takes the even clock's instead, by their odds.
func (m *scene) settleTimes() {
	m.moved = make([]float64, len(m.w.Frames))
	byCamera := map[uint8][]int{}
	for i := range m.w.Frames {
		c := m.w.Frames[i].Camera
		byCamera[c] = append(byCamera[c], i)
	}
	for _, own := range byCamera {
		late := m.wandering(own)
		if late == nil {
			continue
		}
		wrong := m.stampsWrong(own, late)
		for k, i := range own {
			m.moved[i] = -wrong * late[k]
		}
	}
}

// wandering returns how much later than an even clock's each frame's time is, in
// seconds; nil where the times are even, or the rate varies.
func (m *scene) wandering(own []int) []float64 {
	if len(own) < 20 {
		return nil
	}
	steps := make([]float64, len(own)-1)
	for k := range steps {
		steps[k] = m.time(own[k+1]) - m.time(own[k])
	}
	step := signal.Median(slices.Clone(steps))
	if !(step > 0) {
		return nil
	}
	// The line through (count of steps, time), by least squares.
	n := make([]float64, len(own))
	for k, d := range steps {
		n[k+1] = n[k] + math.Max(1, math.Round(d/step))
	}
	var sn, st, snn, snt float64
	for k, i := range own {
		t := m.time(i)
		sn, st, snn, snt = sn+n[k], st+t, snn+n[k]*n[k], snt+n[k]*t
	}
	f := float64(len(own))
	rate := (f*snt - sn*st) / (f*snn - sn*sn)
	first := (st - rate*sn) / f
	late, sum := make([]float64, len(own)), 0.0
	for k, i := range own {
		late[k] = m.time(i) - first - rate*n[k]
		if math.Abs(late[k]) > wanderMost*step {
			return nil
		}
		sum += late[k] * late[k]
	}
	if math.Sqrt(sum/f) < wanderLeast*step {
		return nil
	}
	return late
}

// stampsWrong is the probability that a camera's times are wrong and its frames
// were taken evenly. If a point was really seen late[k] before the time that its
// frame says, it was seen late[k]·velocity short of its path: the jumps in the
// sights, by fourth differences, are regressed on the jumps that this would make.
// A slope of 1 says that times are wrong, 0 that they are right.
func (m *scene) stampsWrong(own []int, late []float64) float64 {
	var info, pull float64
	for p := range body.NumPoints {
		i, y := m.stampJumps(p, own, late)
		info, pull = info+i, pull+y
	}
	if !(info > 0) {
		return 0.5
	}
	return 1 / (1 + math.Exp(clamp(-(pull-0.5*info)/stampTrust, -50, 50)))
}

// stampJumps returns what one point adds to the regression: Σ x²/σ² and Σ x·y/σ²
// of its jumps y and the made ones x, robustly weighed.
func (m *scene) stampJumps(p body.Point, own []int, late []float64) (info, pull float64) {
	var at [5]int
	var jumps, made []geom.Vec3
	var size []float64
	have := 0
	for k := range own {
		if _, ok := m.rawSight(own[k], p); !ok {
			continue
		}
		copy(at[:], at[1:])
		at[4] = k
		if have++; have < 5 {
			continue
		}
		y, x, ok := m.jump(p, own, late, &at)
		if ok {
			jumps, made = append(jumps, y), append(made, x)
			size = append(size, y.Norm())
		}
	}
	if len(size) < 10 {
		return 0, 0
	}
	// The jumps' usual size: where the motion itself jumps more, it weighs less.
	usual := signal.Median(slices.Clone(size)) / 1.5 // of a plane's or a space's normal jumps, about, in sds of one axis
	if !(usual > 0) {
		return 0, 0
	}
	for i, y := range jumps {
		x := made[i]
		// The residual of the nearer of the two answers, so that neither is favoured.
		rest := math.Min(y.Norm(), y.Sub(x).Norm()) / usual
		w := robustWeight(rest*rest, 3) / (usual * usual)
		info += w * x.Dot(x)
		pull += w * x.Dot(y)
	}
	return info, pull
}

// rawSight is where a frame's image, or else its world points, show a point.
func (m *scene) rawSight(i int, p body.Point) (geom.Vec3, bool) {
	f := &m.w.Frames[i]
	if s := f.Image[p]; s.Score > 0 {
		return place2(s), true
	}
	if s := f.World[p]; s.Score > 0 {
		return place3(s), true
	}
	return geom.Vec3{}, false
}

// jump returns the fourth difference of five sights, as uneven times have it, and
// the one that wrong times would make; false across a gap.
func (m *scene) jump(p body.Point, own []int, late []float64, at *[5]int) (y, x geom.Vec3, ok bool) {
	var t [5]float64
	var s [5]geom.Vec3
	mid := m.time(own[at[2]])
	for j, k := range at {
		t[j] = m.time(own[k]) - mid
		s[j], _ = m.rawSight(own[k], p)
	}
	step := (t[4] - t[0]) / 4
	if at[4]-at[0] != 4 || t[4]-t[0] > 6*(t[2]-t[1]+t[3]-t[2])/2 {
		return y, x, false
	}
	v, a := localSlope(&t, &s)
	for j := range 5 {
		w := 24 * step * step * step * step
		for k := range 5 {
			if k != j {
				w /= t[j] - t[k]
			}
		}
		y = y.Add(s[j].Scale(w))
		// Seen late[j] before its time: the path there is late·velocity further on.
		x = x.Sub(v.Add(a.Scale(t[j])).Scale(w * late[at[j]]))
	}
	return y, x, true
}

// localSlope fits a parabola to five sights and returns its velocity at t = 0 and
// its acceleration.
func localSlope(t *[5]float64, s *[5]geom.Vec3) (v, a geom.Vec3) {
	// On the orthogonal polynomials of the five times: 1, t − t̄, and the square
	// less its line.
	mean := (t[0] + t[1] + t[2] + t[3] + t[4]) / 5
	var s2, s3 float64
	for _, x := range t {
		d := x - mean
		s2 += d * d
		s3 += d * d * d
	}
	var q, qq float64
	var line, square geom.Vec3
	for j, x := range t {
		d := x - mean
		q = d*d - s2/5 - s3/s2*d
		qq += q * q
		line = line.Add(s[j].Scale(d / s2))
		square = square.Add(s[j].Scale(q))
	}
	c := square.Scale(1 / qq)
	// d/dt of line·d + c·q at t = 0, where d = −mean.
	return line.Sub(c.Scale(s3/s2 + 2*mean)), c.Scale(2)
}
