package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// A camera's frames seldom come at quite even times. Either the sensor's own
// instants wander, and the times are right; or an even sensor's frames were
// stamped late by what the device was doing, and the times are wrong. At 30 m/s
// a millisecond is 3 cm, so it matters which. What moves fast tells: its path is
// smooth only in the times at which it was really seen.

// Limits of what is taken for wandering, as shares of the step between frames, root mean
// square: under the first it moves nothing, over the second the rate itself varies. A
// normal error of a millisecond is an eighth of a step at 120 Hz, a quarter at 240 Hz.
const (
	wanderLeast = 0.002
	wanderMost  = 0.28
)

// clockGain is the share of a frame's lateness by which the even clock that counts the
// frames is moved on: it follows a rate that is a hundredth off, and forgives a late frame.
const clockGain = 0.1

// countSpan is how many frames to each side have a say in whether frames were dropped
// before one, or it is late.
const countSpan = 3

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
	step := signal.Median(steps)
	if !(step > 0) {
		return nil
	}
	var n []float64
	var first, rate float64
	for range 2 { // the median of steps that wander is off by a hundredth or two
		n = m.turns(own, step)
		// The line through (count of steps, time), by least squares.
		var sn, st, snn, snt float64
		for k, i := range own {
			t := m.time(i)
			sn, st, snn, snt = sn+n[k], st+t, snn+n[k]*n[k], snt+n[k]*t
		}
		f := float64(len(own))
		rate = (f*snt - sn*st) / (f*snn - sn*sn)
		first = (st - rate*sn) / f
		step = rate
	}
	late, sum := make([]float64, len(own)), 0.0
	for k, i := range own {
		late[k] = m.time(i) - first - rate*n[k]
		sum += late[k] * late[k]
	}
	if rms := math.Sqrt(sum / float64(len(own))); rms < wanderLeast*step || rms > wanderMost*step {
		return nil
	}
	return late
}

// turns counts the steps of an even clock to each frame. They are counted from where the
// clock has come to and not from the frame before, and a step is left out only where the
// frames around say so, too: one late frame would else put all that follow a step off.
func (m *scene) turns(own []int, step float64) []float64 {
	left := make([]float64, len(own)) // steps without a frame so far
	clock := m.time(own[0])           // of the step that the frame's place in the row gives
	for k := range own {
		late := m.time(own[k]) - clock
		left[k] = math.Round(late / step)
		clock += step + clockGain*(late-left[k]*step)
	}
	n := make([]float64, len(own))
	var room [2*countSpan + 1]float64
	for k := range own {
		around := min(countSpan, k, len(own)-1-k)
		near := room[:copy(room[:], left[k-around:k+around+1])]
		signal.Kth(near, around)
		n[k] = near[around]
	}
	rising(n)
	for k := range n {
		n[k] = math.Round(n[k]) + float64(k)
	}
	return n
}

// rising makes a list never fall by the least squares: what falls is pooled with what is
// before it (Barlow et al. 1972, Statistical Inference under Order Restrictions, §1.2).
func rising(x []float64) {
	type pool struct {
		sum, n float64
	}
	var pools []pool
	for _, v := range x {
		p := pool{v, 1}
		for k := len(pools) - 1; k >= 0 && pools[k].sum*p.n > p.sum*pools[k].n; k-- {
			p = pool{p.sum + pools[k].sum, p.n + pools[k].n}
			pools = pools[:k]
		}
		pools = append(pools, p)
	}
	k := 0
	for _, p := range pools {
		for range int(p.n) {
			x[k] = p.sum / p.n
			k++
		}
	}
}

// stampsWrong is the probability that a camera's times are wrong and its frames
// were taken evenly. If a point was really seen late[k] before the time that its
// frame says, it was seen late[k]·velocity short of its path: the jumps in the
// sights, by fourth differences, are regressed on the jumps that this would make.
// A slope of 1 says that times are wrong, 0 that they are right.
func (m *scene) stampsWrong(own []int, late []float64) float64 {
	stencils := m.stencils(own, late)
	var room jumps
	var info, pull float64
	for p := range body.NumPoints {
		if !quick(p) {
			continue
		}
		i, y := m.stampJumps(p, own, stencils, &room)
		info, pull = info+i, pull+y
	}
	if !(info > 0) {
		return 0.5
	}
	return 1 / (1 + math.Exp(clamp(-(pull-0.5*info)/stampTrust, -50, 50)))
}

// quick reports whether a point moves fast enough to tell a wrong time: what it says grows
// with the square of its speed, and trunk, head and legs have a tenth of an arm's.
func quick(p body.Point) bool {
	switch groupOf[p] {
	case groupElbow, groupWrist, groupRacket, groupBall:
		return true
	}
	return false
}

// jumps is room for one point's jumps, as seen and as wrong times would make them.
type jumps struct {
	seen, made  []geom.Vec3
	size, whole []float64
}

// stampJumps returns what one point adds to the regression: Σ x²/σ² and Σ x·y/σ²
// of its jumps y and the made ones x, robustly weighed.
func (m *scene) stampJumps(p body.Point, own []int, stencils []jumpStencil, room *jumps) (info, pull float64) {
	seen, made, size := room.seen[:0], room.made[:0], room.size[:0]
	var last [5]geom.Vec3 // the sights in the frames k−4 … k
	have := 0             // frames running in which the point was seen
	for k, i := range own {
		s, ok := m.rawSight(i, p)
		if !ok {
			have = 0
			continue
		}
		last = [5]geom.Vec3{last[1], last[2], last[3], last[4], s}
		if have++; have < 5 || !stencils[k].ok {
			continue
		}
		y, x := stencils[k].read(&last)
		seen, made, size = append(seen, y), append(made, x), append(size, y.Norm())
	}
	room.seen, room.made, room.size = seen, made, size
	if len(size) < 10 {
		return 0, 0
	}
	// The jumps' usual size: where the motion itself jumps more, it weighs less.
	room.whole = append(room.whole[:0], size...)
	usual := signal.Kth(room.whole, len(size)/2) / 1.5 // of a plane's or a space's normal jumps, about, in sds of one axis
	if !(usual > 0) {
		return 0, 0
	}
	for i, y := range seen {
		x := made[i]
		// The residual of the nearer of the two answers, so that neither is favoured.
		rest := math.Min(size[i], y.Sub(x).Norm()) / usual
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

// jumpStencil reads five frames running: the weights of the fourth difference of what is
// seen in them, as uneven times have it, and of the one that wrong times would make.
type jumpStencil struct {
	ok         bool // the frames have no gap
	seen, made [5]float64
}

// read returns both differences of five sights.
func (j *jumpStencil) read(s *[5]geom.Vec3) (seen, made geom.Vec3) {
	for i, p := range s {
		a, b := j.seen[i], j.made[i]
		seen = geom.Vec3{X: seen.X + a*p.X, Y: seen.Y + a*p.Y, Z: seen.Z + a*p.Z}
		made = geom.Vec3{X: made.X + b*p.X, Y: made.Y + b*p.Y, Z: made.Z + b*p.Z}
	}
	return seen, made
}

// stencils returns those that end at each frame: all points seen there share them.
func (m *scene) stencils(own []int, late []float64) []jumpStencil {
	out := make([]jumpStencil, len(own))
	for k := 4; k < len(own); k++ {
		var t [5]float64
		mid := m.time(own[k-2])
		for j := range t {
			t[j] = m.time(own[k-4+j]) - mid
		}
		if t[4]-t[0] > 6*(t[3]-t[1])/2 {
			continue
		}
		out[k] = newJumpStencil(&t, (*[5]float64)(late[k-4:]))
	}
	return out
}

// newJumpStencil is the stencil of five times about the middle one's. What was seen
// late[j] before its time shows the path late[j]·velocity further on; the velocity is that
// of the parabola that fits the five sights best.
func newJumpStencil(t, late *[5]float64) jumpStencil {
	j := jumpStencil{ok: true}
	step := (t[4] - t[0]) / 4
	// On the orthogonal polynomials of the five times, 1, d = t − t̄, and
	// q = d² − Σd²/5 − d·Σd³/Σd², the parabola's velocity at a time is
	// Σ s·(d/Σd² + q/Σq²·(2·t − 2·t̄ − Σd³/Σd²)).
	mean := (t[0] + t[1] + t[2] + t[3] + t[4]) / 5
	var s2, s3, qq float64
	for _, x := range t {
		d := x - mean
		s2 += d * d
		s3 += d * d * d
	}
	var q [5]float64
	for i, x := range t {
		d := x - mean
		q[i] = d*d - s2/5 - s3/s2*d
		qq += q[i] * q[i]
	}
	var line, square float64
	for i := range t {
		w := 24 * step * step * step * step
		for k := range t {
			if k != i {
				w /= t[i] - t[k]
			}
		}
		j.seen[i] = w
		line -= w * late[i]
		square -= w * late[i] * (2*(t[i]-mean) - s3/s2)
	}
	for i, x := range t {
		j.made[i] = line*(x-mean)/s2 + square*q[i]/qq
	}
	return j
}
