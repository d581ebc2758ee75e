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
	felt   float64 // sd of the white noise that troubles a smoother as much; 0: not worked out
}

// total is the sd of the whole noise.
func (h hiss) total() float64 { return math.Hypot(h.white, h.slow) }

// feltBy returns what a smoother feels of the noise. It parts motion from noise about one
// frequency, where white jerk of some density, in the sight's unit, and a noise of sd σ every
// step seconds are equally strong: (density/(σ²·step))^(1/6) rad/s. What the whole noise has
// there white noise of this sd would have. A noise of a frame or three is whole or more, one
// that lasts for ten is mostly slower and passes for motion.
func (h hiss) feltBy(density, step float64) float64 {
	if h.slow == 0 || !(h.memory > 0) || !(step > 0) {
		return h.total()
	}
	phi := math.Exp(-step / h.memory)
	sd := h.total()
	for range 2 {
		turn := math.Min(math.Pi, step*math.Pow(density/(sd*sd*step), 1.0/6)) // radians a frame
		sd = math.Sqrt(h.white*h.white + h.slow*h.slow*(1-phi*phi)/(1-2*phi*math.Cos(turn)+phi*phi))
	}
	return sd
}

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

// rigid lists segments whose length is constant to a few millimetres.
var rigid = [...][2]body.Point{
	{body.LeftShoulder, body.LeftElbow}, {body.RightShoulder, body.RightElbow},
	{body.LeftElbow, body.LeftWrist}, {body.RightElbow, body.RightWrist},
	{body.LeftHip, body.LeftKnee}, {body.RightHip, body.RightKnee},
	{body.LeftKnee, body.LeftAnkle}, {body.RightKnee, body.RightAnkle},
	{body.LeftHip, body.RightHip}, {body.RacketTip, body.RacketButt},
}

// learnColour fits share and memory to the lengths of rigid segments, frame after
// frame, pooled over segments.
func (m *scene) learnColour() signal.Colour {
	var echo signal.Echo
	step := 0.0
	for _, s := range rigid {
		e, dt := lengthErrors(m.places(s[0]), m.places(s[1]))
		if len(e) < 40 {
			continue
		}
		step = math.Max(step, dt)
		echo.Add(e)
	}
	c := echo.Colour(step)
	if m.oneEye() { // which feels the white part alone
		c.Share = math.Min(c.Share, signal.SlowShare)
	}
	return c
}

// places returns the point's places: as seen, or as found from other sights.
func (m *scene) places(p body.Point) []sight {
	if m.rig == nil {
		return m.sights[p]
	}
	return m.crossings[p]
}

// lengthErrors returns, frame by frame, the deviation of a segment's length from
// its median over its spread; NaN where an end was not seen or the length is
// wild. dt is the median time between frames.
func lengthErrors(a, b []sight) (e []float64, dt float64) {
	l := make([]float64, 0, len(a))
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
	if l = signal.Deviations(l, finestLength); l == nil {
		return nil, 0
	}
	return l, medianStep(a)
}

// finestLength is the least spread of a length that is taken for noise, m.
const finestLength = 1e-6

// split takes the noise that fourth differences show apart for a colour and the
// frames' step in seconds.
func split(c signal.Colour, differences, step float64) hiss {
	n := c.Split(differences, step)
	return hiss{white: n.White, slow: n.Lasting, memory: n.Memory}
}
