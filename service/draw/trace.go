package draw

import (
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// z95 is the two-sided 95 % point of the normal distribution.
const z95 = 1.96

// curve is a series over time, seconds from contact. sd is NaN where unknown.
type curve struct {
	t, v, sd []float64
	class    string
}

// seriesOf returns a trace's series of a name; nil when there is none.
func seriesOf(s *pb.Swing, name string) *pb.Trace_Series {
	for _, x := range s.GetTrace().GetSeries() {
		if x.GetName() == name && len(x.GetValues()) == len(s.GetTrace().GetTimes()) {
			return x
		}
	}
	return nil
}

// curveOf returns a swing's curve, empty when the trace does not hold it.
func curveOf(s *pb.Swing, name, class string) curve {
	x := seriesOf(s, name)
	if x == nil {
		return curve{class: class}
	}
	c := curve{class: class}
	for i, t := range s.GetTrace().GetTimes() {
		sd := math.NaN()
		if i < len(x.GetSds()) {
			sd = float64(x.GetSds()[i])
		}
		c.t, c.v, c.sd = append(c.t, float64(t)), append(c.v, float64(x.GetValues()[i])), append(c.sd, sd)
	}
	return c
}

func unitOf(s *pb.Swing, name string) string {
	if x := seriesOf(s, name); x != nil {
		return x.GetUnit()
	}
	return ""
}

// eventAt returns an event's time in seconds from contact, NaN without either.
func eventAt(s *pb.Swing, kind pb.EventKind) float64 {
	at, contact := eventUS(s, kind), eventUS(s, pb.EventKind_EVENT_KIND_CONTACT)
	return (at - contact) / 1e6
}

func eventUS(s *pb.Swing, kind pb.EventKind) float64 {
	for _, e := range s.GetEvents() {
		if e.GetKind() == kind {
			return float64(e.GetTimeUs())
		}
	}
	return math.NaN()
}

// span is the stretch worth drawing, seconds from contact.
func span(s *pb.Swing) (from, to float64) {
	from, to = eventAt(s, pb.EventKind_EVENT_KIND_TURN_START)-0.15, eventAt(s, pb.EventKind_EVENT_KIND_FOLLOW_END)+0.15
	if math.IsNaN(from) {
		from = -1
	}
	if math.IsNaN(to) {
		to = 0.7
	}
	times := s.GetTrace().GetTimes()
	if len(times) > 1 {
		from, to = max(from, float64(times[0]), -2.5), min(to, float64(times[len(times)-1]), 2)
	}
	if !(to > from) {
		return -1, 0.7
	}
	return from, to
}

// point is a place in court axes, metres.
type point struct{ x, y, z float64 }

func (p point) known() bool { return !math.IsNaN(p.x + p.y + p.z) }

func (p point) minus(q point) point { return point{p.x - q.x, p.y - q.y, p.z - q.z} }

// toward returns the point w of the way from p to q.
func (p point) toward(q point, w float64) point {
	return point{p.x + (q.x-p.x)*w, p.y + (q.y-p.y)*w, p.z + (q.z-p.z)*w}
}

// motion is a trace's places over time.
type motion struct {
	times  []float32
	places map[string][3][]float32
}

func motionOf(s *pb.Swing) motion {
	m := motion{times: s.GetTrace().GetTimes(), places: map[string][3][]float32{}}
	for _, x := range s.GetTrace().GetSeries() {
		name, axis := x.GetName(), -1
		if n := len(name); n > 2 && name[n-2] == '.' {
			axis = int(name[n-1]) - 'x'
			name = name[:n-2]
		}
		if axis < 0 || axis > 2 || len(x.GetValues()) != len(m.times) {
			continue
		}
		p := m.places[name]
		p[axis] = x.GetValues()
		m.places[name] = p
	}
	return m
}

// at returns a place t seconds from contact, between samples; NaN outside or where unknown.
func (m motion) at(name string, t float64) point {
	n := len(m.times)
	p, ok := m.places[name]
	if !ok || n < 2 || p[0] == nil || p[1] == nil || p[2] == nil {
		return point{math.NaN(), math.NaN(), math.NaN()}
	}
	first, last := float64(m.times[0]), float64(m.times[n-1])
	f := (t - first) / (last - first) * float64(n-1)
	if math.IsNaN(f) || f < 0 || f > float64(n-1) {
		return point{math.NaN(), math.NaN(), math.NaN()}
	}
	i := min(n-2, int(f))
	w := f - float64(i)
	mix := func(v []float32) float64 { return float64(v[i])*(1-w) + float64(v[i+1])*w }
	return point{mix(p[0]), mix(p[1]), mix(p[2])}
}
