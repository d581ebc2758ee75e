package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// hiss is the noise of a group of sights: a white part and a part that lasts
// from frame to frame (first-order, with a memory). Pose estimators make both;
// only the white part can be told from motion by its jumps, so the lasting
// part is learned from what must not change: the lengths of rigid segments.
type hiss struct {
	white  float64 // sd, in the sight's unit
	slow   float64 // sd of the lasting part
	memory float64 // s, its correlation time
}

// total is the sd of the whole noise.
func (h hiss) total() float64 { return math.Hypot(h.white, h.slow) }

// strand is a stream of sights whose lasting noise is one course.
type strand struct {
	along float64
	eye   *camera.Pose
	kind  kind
}

// link is how the simulated error of one sight follows from that of the sight
// before it in the same strand.
type link struct {
	strand      int     // which of the strands
	white       float64 // sd of the white part
	keep, fresh float64 // the lasting part is keep times the last one, plus fresh times a normal number
}

// linker makes links, sight by sight.
type linker struct {
	strands map[strand]int
	last    []float64 // s, the time of each strand's last sight
}

// link returns the link of the next sight.
func (l *linker) link(s *sight, along float64) link {
	if l.strands == nil {
		l.strands = map[strand]int{}
	}
	key := strand{along, s.eye, s.kind}
	k, known := l.strands[key]
	if !known {
		k = len(l.last)
		l.strands[key] = k
		l.last = append(l.last, s.t)
	}
	out := link{strand: k, white: s.h.white, fresh: s.h.slow}
	if known && s.h.memory > 0 {
		out.keep = math.Exp(-math.Abs(s.t-l.last[k]) / s.h.memory)
		out.fresh *= math.Sqrt(1 - out.keep*out.keep)
	}
	l.last[k] = s.t
	return out
}

// next returns simulated errors of a sight for up to three scalars; v is the
// strand's lasting part.
func (l *link) next(s *sight, v *geom.Vec3, rng *dice) geom.Vec3 {
	if s.errs != nil {
		return geom.Vec3{X: s.errs[rng.member%len(s.errs)]}
	}
	e := rng.vector(l.white)
	if l.fresh > 0 {
		*v = v.Scale(l.keep).Add(rng.vector(l.fresh))
		e = e.Add(*v)
	}
	return e
}

// colour is how a noise's variance divides over time: the share that lasts,
// and its memory in seconds.
type colour struct{ share, memory float64 }

// usualColour is believed where no rigid segment was seen well: pose
// estimators smooth over some frames. Common practice, no source.
var usualColour = colour{0.3, 0.1}

// rigid lists segments whose length is constant to a few millimetres.
var rigid = [...][2]body.Point{
	{body.LeftShoulder, body.LeftElbow}, {body.RightShoulder, body.RightElbow},
	{body.LeftElbow, body.LeftWrist}, {body.RightElbow, body.RightWrist},
	{body.LeftHip, body.LeftKnee}, {body.RightHip, body.RightKnee},
	{body.LeftKnee, body.LeftAnkle}, {body.RightKnee, body.RightAnkle},
	{body.LeftHip, body.RightHip}, {body.RacketTip, body.RacketButt},
}

// lags is how many frames of autocorrelation are looked at.
const lags = 16

// learnColour fits share and memory to the autocovariance of the lengths of
// rigid segments, pooled over segments after each is scaled to unit variance.
func (m *scene) learnColour() colour {
	var sum, count [lags]float64
	step := 0.0
	for _, s := range rigid {
		e, dt := lengthErrors(m.places(s[0]), m.places(s[1]))
		if len(e) < 40 {
			continue
		}
		step = math.Max(step, dt)
		for k := range lags {
			for i := k; i < len(e); i++ {
				if v := e[i] * e[i-k]; !math.IsNaN(v) {
					sum[k] += v
					count[k]++
				}
			}
		}
	}
	if count[0] < 200 || !(sum[0] > 0) {
		return usualColour
	}
	var rho [lags]float64
	for k := range lags {
		rho[k] = sum[k] / math.Max(count[k], 1) / (sum[0] / count[0])
	}
	return fitColour(rho, step)
}

// places returns the point's places: as seen, or as found from other sights.
func (m *scene) places(p body.Point) []sight {
	if m.rig == nil {
		return m.sights[p]
	}
	return m.crossings[p]
}

// fitColour finds the share and the memory whose autocorrelation share·e^(−t/memory)
// is nearest, by search over a table.
func fitColour(rho [lags]float64, step float64) colour {
	best, least := usualColour, math.Inf(1)
	for _, memory := range []float64{0.015, 0.03, 0.06, 0.12, 0.25, 0.5} {
		var ab, bb float64
		for k := 1; k < lags; k++ {
			b := math.Exp(-float64(k) * step / memory)
			ab += rho[k] * b
			bb += b * b
		}
		share := clamp(ab/bb, 0, 0.97)
		miss := 0.0
		for k := 1; k < lags; k++ {
			d := rho[k] - share*math.Exp(-float64(k)*step/memory)
			miss += d * d
		}
		if miss < least {
			best, least = colour{share, memory}, miss
		}
	}
	return best
}

// lengthErrors returns, frame by frame, the deviation of a segment's length from
// its median over its spread; NaN where an end was not seen or the length is
// wild. dt is the median time between frames.
func lengthErrors(a, b []sight) (e []float64, dt float64) {
	var l []float64
	j := 0
	for i := range a {
		for j < len(b) && b[j].t < a[i].t {
			j++
		}
		if j < len(b) && b[j].t == a[i].t && a[i].kind == place && b[j].kind == place {
			l = append(l, a[i].p.Sub(b[j].p).Norm())
		} else {
			l = append(l, math.NaN())
		}
	}
	known := make([]float64, 0, len(l))
	for _, v := range l {
		if !math.IsNaN(v) {
			known = append(known, v)
		}
	}
	if len(known) < 20 {
		return nil, 0
	}
	mid, spread := signal.Median(known), signal.MAD(known)
	for i, v := range l {
		l[i] = (v - mid) / math.Max(spread, 1e-6)
		if !(math.Abs(l[i]) < 4) {
			l[i] = math.NaN()
		}
	}
	return l, medianStep(a)
}

// split takes the noise that fourth differences show apart into its white and
// its lasting part, for a colour and the frames' step in seconds: the variance
// of the differences is σ²·((1 − share)·70 + share·v(φ)), φ = e^(−step/memory).
func (c colour) split(differences, step float64) hiss {
	binomial := [5]float64{1, -4, 6, -4, 1}
	phi, v := math.Exp(-step/c.memory), 0.0
	for i, a := range binomial {
		for j, b := range binomial {
			v += a * b * math.Pow(phi, math.Abs(float64(i-j)))
		}
	}
	total := differences * math.Sqrt(70/((1-c.share)*70+c.share*v))
	return hiss{white: total * math.Sqrt(1-c.share), slow: total * math.Sqrt(c.share), memory: c.memory}
}
