package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// A foot that stands is still along the line of sight, too, which one camera shows least.
// How still it stands, the image shows: in recorded strokes (marker-based capture) an
// ankle's speed along a horizontal line of sight has, in each class of its speed across that
// line, a median of 0.5 and a third quartile of 1.0 of the latter; 0.02 and 0.03 m/s where
// it rests.

const (
	footRest   = 0.03 // m/s, sd of the speed along the line of sight of a foot that rests across it
	footEqual  = 1.0  // of a foot that moves, sd of the one speed over the other
	footReach  = 0.05 // s, sd of the bell over which the speed across is taken
	footMemory = 0.1  // s within which an ankle's speed is one and the same, about two such bells
)

// addStands ties the distances of an ankle at a node and the next.
func (l *lift) addStands(i int) {
	if i+1 >= len(l.t) {
		return
	}
	dt := l.t[i+1] - l.t[i]
	weight := dt / (dt + footMemory)
	for k, sd := range l.stand {
		j := int(body.LeftAnkle) + k
		if !l.seen[j] || !(sd[i] > 0) {
			continue
		}
		c := 1 / (dt * sd[i])
		a := i*liftJoints + j
		b := a + liftJoints
		var r liftRow
		r.put(a, -c)
		r.put(b, c)
		l.addRobust(&r, c*(l.lam[b]-l.lam[a]), weight)
	}
}

// lookAtFeet learns, for each ankle between each node and the next, how fast it may move
// along the line of sight: as fast as it moves across, but for what of that is noise.
// distance is the player's, metres; noise that of a speed across, m/s.
func (l *lift) lookAtFeet(distance float64, noise [2]float64) {
	n := len(l.t)
	for k := range l.stand {
		l.stand[k] = make([]float64, n)
		least := square(noise[k]) / 4 // what a speed that drowns in noise may be
		for i := range n - 1 {
			x, y := l.drift(l.ray[int(body.LeftAnkle)+k], i)
			across := distance*distance*(x*x+y*y) - 2*square(noise[k])
			l.stand[k][i] = math.Sqrt(footRest*footRest + footEqual*footEqual*math.Max(across, least))
		}
	}
}

// drift is how fast a ray moves across the view between node i and the next, for a metre
// of distance: the slope of a line fitted under a bell of footReach.
func (l *lift) drift(ray []geom.Vec3, i int) (x, y float64) {
	at := (l.t[i] + l.t[i+1]) / 2
	var w, wt, wtt float64
	var p, pt geom.Vec3
	add := func(k int) bool {
		if k < 0 || k >= len(ray) || math.Abs(l.t[k]-at) > 3*footReach {
			return false
		}
		t := l.t[k] - at
		f := l.span[k] * math.Exp(-0.5*square(t/footReach))
		w, wt, wtt = w+f, wt+f*t, wtt+f*t*t
		p, pt = p.Add(ray[k].Scale(f)), pt.Add(ray[k].Scale(f*t))
		return true
	}
	for k := i; add(k); k-- {
	}
	for k := i + 1; add(k); k++ {
	}
	v := pt.Scale(w).Sub(p.Scale(wt)).Scale(1 / (w*wtt - wt*wt))
	return v.X, v.Y
}

// footNoise is the sd, m/s, that noise of the image gives the speed of an ankle by a
// line fitted under a bell of footReach: of noise with density D, in one axis,
// √(D/(4√π·footReach³)). White noise of sd σ in steps Δ has D = σ²Δ; a lasting part of sd s
// and memory T has 2s²T/(1 + T²/footReach²) at the bell's frequency.
func (m *scene) footNoise(eye *camera.Pose, distance float64) (sd [2]float64) {
	for k := range sd {
		sd[k] = math.Inf(1)
		for _, s := range m.split(body.LeftAnkle+body.Point(k), image) {
			h := s.sights[0].h
			if s.sights[0].eye != eye || h == nil {
				continue
			}
			d := h.white * h.white * medianStep(s.sights)
			if h.memory > 0 {
				d += 2 * h.slow * h.slow * h.memory / (1 + square(h.memory/footReach))
			}
			sd[k] = distance / eye.Focal * math.Sqrt(d/(4*math.Sqrt(math.Pi)*footReach*footReach*footReach))
		}
	}
	return sd
}
