package measure

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// TraceStep is the grid of a trace, s: 1/120, as fine as common cameras film, so
// that a curve drawn or compared loses nothing (a tip at 30 m/s moves 25 cm in it).
const TraceStep = 1. / 120

// traceLimit bounds a trace's samples: 30 s of grid.
const traceLimit = 3600

// tracePoints are the body points of a trace: enough for a stick figure.
var tracePoints = []body.Point{
	body.Nose, body.LeftShoulder, body.RightShoulder, body.LeftElbow, body.RightElbow,
	body.LeftWrist, body.RightWrist, body.LeftHip, body.RightHip,
	body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle,
}

// headlines are the curves that carry sds.
var headlines = []struct {
	name, unit string
	have       func(*Reader) bool
	at         func(*Reader, float64) float64
}{
	{"racket_speed.tip", "m/s", hasTip, func(r *Reader, t float64) float64 { return r.k.Value(r.k.TipSpeed, t) }},
	{"racket_speed.hand", "m/s", hasGrip, func(r *Reader, t float64) float64 { return r.k.Value(r.k.GripSpeed, t) }},
	{"lag.angle", "deg", hasTip, func(r *Reader, t float64) float64 { return degrees(r.k.LagBetween(t)) }},
	{"shoulder_turn", "deg", hasShoulders, func(r *Reader, t float64) float64 { return degrees(r.k.Value(r.k.ShoulderTurn, t)) }},
	{"hip_turn", "deg", hasHips, func(r *Reader, t float64) float64 { return degrees(r.k.Value(r.k.HipTurn, t)) }},
	{"separation", "deg", hasTrunk, (*Reader).separationAt},
	{"elbow.hitting", "deg", hasHittingArm, (*Reader).hittingElbow},
}

func hasTip(r *Reader) bool       { return r.k.HasTip() && r.k.HasGrip() }
func hasGrip(r *Reader) bool      { return r.k.HasGrip() }
func hasShoulders(r *Reader) bool { return r.k.ShoulderTurn != nil }
func hasHips(r *Reader) bool      { return r.k.HipTurn != nil }
func hasTrunk(r *Reader) bool     { return hasShoulders(r) && hasHips(r) }
func hasHittingArm(r *Reader) bool {
	return r.k.Known(arm3(r.leftHits())...)
}

func arm3(left bool) []body.Point {
	s, e, w := arm(left)
	return []body.Point{s, e, w}
}

// hittingElbow is the flexion of the hitting elbow at t, degrees.
func (r *Reader) hittingElbow(t float64) float64 {
	s, e, w := arm(r.leftHits())
	return degrees(phase.Flexion(r.k.At(s, t), r.k.At(e, t), r.k.At(w, t)))
}

// Tracer builds a trace: curves of the mean course on a grid, and the spread of
// the headline curves over draws that are shown one after the other.
type Tracer struct {
	r     Reader
	ctx   Context
	grid  []float64 // seconds from contact, rising, with 0
	trace Trace
	// For each headline series of the trace: its place, and running count, mean and
	// sum of squared deviations at every sample (Welford 1962).
	spread []spread
}

type spread struct {
	curve, series int
	n             []int
	mean, square  []float64
}

// NewTracer starts a trace of the mean course. Times are seconds from contact,
// multiples of TraceStep within the course; the sample at 0 is the limit from
// before impact. The player is mirrored to right-handed, as the course is; axes are
// the course's. Curves that the course does not hold are left out; samples where one
// is not defined (the lag of a slow hand) are NaN.
func NewTracer(mean *track.Course, ctx Context) *Tracer {
	b := &Tracer{ctx: ctx}
	b.r.load(mean, ctx)
	if !b.r.k.Usable() {
		return b
	}
	c := mean.Contact()
	first := max(math.Ceil((mean.T[0]-c)/TraceStep-1e-9), -traceLimit/2)
	last := min(math.Floor((mean.T[len(mean.T)-1]-c)/TraceStep+1e-9), traceLimit/2)
	for i := first; i <= last; i++ {
		b.grid = append(b.grid, i*TraceStep)
		b.trace.Times = append(b.trace.Times, float32(i*TraceStep))
	}
	b.addPlaces()
	b.addHeadlines()
	return b
}

func (b *Tracer) addPlaces() {
	if hasTip(&b.r) {
		b.addPlace("tip", func(t float64) geom.Vec3 { return b.r.tip(t) })
	}
	if b.r.k.HasGrip() {
		b.addPlace("hand", func(t float64) geom.Vec3 { return b.r.k.GripAt(t) })
	}
	if b.r.k.HasCenter() {
		b.addPlace("racket_head", func(t float64) geom.Vec3 { return b.r.k.CenterAt(t) })
	}
	for _, p := range tracePoints {
		if b.r.k.Known(p) {
			b.addPlace(p.String(), func(t float64) geom.Vec3 { return b.r.k.At(p, t) })
		}
	}
}

func (b *Tracer) addPlace(name string, at func(float64) geom.Vec3) {
	x, y, z := make([]float32, len(b.grid)), make([]float32, len(b.grid)), make([]float32, len(b.grid))
	for i, t := range b.grid {
		p := at(b.r.contact() + t)
		x[i], y[i], z[i] = float32(p.X), float32(p.Y), float32(p.Z)
	}
	b.trace.Series = append(b.trace.Series,
		Series{Name: name + ".x", Unit: "m", Values: x},
		Series{Name: name + ".y", Unit: "m", Values: y},
		Series{Name: name + ".z", Unit: "m", Values: z})
}

func (b *Tracer) addHeadlines() {
	n := len(b.grid)
	for i, h := range headlines {
		if !h.have(&b.r) {
			continue
		}
		v := make([]float32, n)
		for j, t := range b.grid {
			v[j] = float32(h.at(&b.r, b.r.contact()+t))
		}
		b.spread = append(b.spread, spread{i, len(b.trace.Series), make([]int, n), make([]float64, n), make([]float64, n)})
		b.trace.Series = append(b.trace.Series, Series{Name: h.name, Unit: h.unit, Values: v})
	}
}

// Add takes one draw; instants are compared at equal time from each draw's own contact.
func (b *Tracer) Add(draw *track.Course) {
	b.r.load(draw, b.ctx)
	if !b.r.k.Usable() {
		return
	}
	first, last := draw.T[0]-b.r.contact(), draw.T[len(draw.T)-1]-b.r.contact()
	for i := range b.spread {
		s := &b.spread[i]
		h := &headlines[s.curve]
		if !h.have(&b.r) {
			continue
		}
		for j, t := range b.grid {
			if t >= first && t <= last {
				s.add(j, h.at(&b.r, b.r.contact()+t))
			}
		}
	}
}

// add takes one value of sample j into the running spread.
func (s *spread) add(j int, v float64) {
	if math.IsNaN(v) {
		return
	}
	s.n[j]++
	d := v - s.mean[j]
	s.mean[j] += d / float64(s.n[j])
	s.square[j] += d * (v - s.mean[j])
}

// Trace returns the trace; nil for a course that is too short. With two draws or
// more the headline series have sds, NaN where fewer than two draws define the curve.
func (b *Tracer) Trace() *Trace {
	if len(b.grid) == 0 {
		return nil
	}
	for _, s := range b.spread {
		sds, known := make([]float32, len(b.grid)), false
		for j, n := range s.n {
			sds[j] = float32(math.NaN())
			if n >= 2 {
				sds[j], known = float32(math.Sqrt(s.square[j]/float64(n-1))), true
			}
		}
		if known {
			b.trace.Series[s.series].SDs = sds
		}
	}
	t := b.trace
	return &t
}

// BuildTrace is a Tracer over draws that are all at hand.
func BuildTrace(mean *track.Course, draws []*track.Course, ctx Context) *Trace {
	b := NewTracer(mean, ctx)
	for _, d := range draws {
		b.Add(d)
	}
	return b.Trace()
}
