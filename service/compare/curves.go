package compare

import (
	"math"
	"sort"
	"strings"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// curves is a trace ready for comparison: in the axes of a right-hander, with
// horizontal positions counted from mid-hip at contact and lengths scaled.
type curves struct {
	times  []float64
	series map[string]curve
	grip   string // how the trace names the grip centre
}

type curve struct {
	unit   string
	values []float64
	sds    []float64 // nil when the trace gives none
}

// maxSamples bounds the work on one trace: 34 s at 120 Hz. A longer trace is
// taken as none.
const maxSamples = 4096

// newCurves reads a trace; nil when there is none or its times do not rise.
// Series of unfit length are passed over.
func newCurves(s *measure.Sheet, k scale) *curves {
	if s.Trace == nil || len(s.Trace.Times) < 2 || len(s.Trace.Times) > maxSamples {
		return nil
	}
	c := &curves{times: widen(s.Trace.Times), series: map[string]curve{}, grip: "hand"}
	for i, t := range c.times {
		if math.IsNaN(t) || math.IsInf(t, 0) || i > 0 && t < c.times[i-1] {
			return nil
		}
	}
	for _, v := range s.Trace.Series {
		if len(v.Values) == len(c.times) {
			c.series[v.Name] = newCurve(v)
		}
	}
	if _, ok := c.series["grip.x"]; ok {
		c.grip = "grip"
	}
	if c.leftHanded(s.Stroke) {
		c.mirror()
	}
	c.fillErrors(index(s.Figures))
	c.center()
	c.rescale(k)
	return c
}

func newCurve(v measure.Series) curve {
	c := curve{unit: v.Unit, values: widen(v.Values)}
	if len(v.SDs) == len(v.Values) {
		c.sds = widen(v.SDs)
	}
	return c
}

func widen(x []float32) []float64 {
	out := make([]float64, len(x))
	for i, v := range x {
		out[i] = float64(v)
	}
	return out
}

// isPosition reports whether a series is a coordinate: "tip.x".
func isPosition(name string) bool {
	return strings.HasSuffix(name, ".x") || strings.HasSuffix(name, ".y") || strings.HasSuffix(name, ".z")
}

// value returns a series at a time; NaN when it is not there.
func (c *curves) value(name string, t float64) float64 {
	s, ok := c.series[name]
	if !ok {
		return absent
	}
	return interpolate(c.times, s.values, t)
}

func (c *curves) atContact(name string) float64 { return c.value(name, 0) }

// point returns a place at a time; NaN where the trace has none.
func (c *curves) point(name string, t float64) [3]float64 {
	return [3]float64{c.value(name+".x", t), c.value(name+".y", t), c.value(name+".z", t)}
}

func distance(a, b [3]float64) float64 {
	return math.Sqrt(sq(a[0]-b[0]) + sq(a[1]-b[1]) + sq(a[2]-b[2]))
}

// wristMargin is how much nearer to the grip one wrist must be to tell the
// hand that holds the racket alone, m. Our choice: more than a fist.
const wristMargin = 0.12

// leftHanded tells whether the trace shows a left-hander as he is, so that it
// must be mirrored: the left wrist alone is at the grip; with both hands there,
// whether grip and body lie as a right-hander's would not.
func (c *curves) leftHanded(stroke body.Stroke) bool {
	grip := c.point(c.grip, 0)
	left, right := distance(grip, c.point("left_wrist", 0)), distance(grip, c.point("right_wrist", 0))
	if math.Abs(left-right) > wristMargin {
		return left < right
	}
	if stroke == body.StrokeUnknown || stroke.OverheadMotion() {
		return false
	}
	side := grip[2] - (c.atContact("left_hip.z")+c.atContact("right_hip.z"))/2
	return side*stroke.Side() < 0
}

// mirror turns a left-hander into a right-hander: z changes sign, the names of
// left and right change places. Angles are mirrored by their definitions.
func (c *curves) mirror() {
	mirrored := make(map[string]curve, len(c.series))
	for name, s := range c.series {
		if strings.HasSuffix(name, ".z") {
			for i := range s.values {
				s.values[i] = -s.values[i]
			}
		}
		mirrored[twin(name)] = s
	}
	c.series = mirrored
}

func twin(name string) string {
	if rest, ok := strings.CutPrefix(name, "left_"); ok {
		return "right_" + rest
	}
	if rest, ok := strings.CutPrefix(name, "right_"); ok {
		return "left_" + rest
	}
	return name
}

// Places come without errors of their own where a trace gives only lines to
// draw. The error of the figure that tells the same direction at contact then
// stands in, placeInflation times: away from contact nothing holds a place as
// firmly. Our choice.
const placeInflation = 2.0

var placeFigures = map[string]string{".x": "contact.ahead", ".y": "contact.height", ".z": "spacing.hands"}

func (c *curves) fillErrors(figures map[string]measure.Figure) {
	for name, s := range c.series {
		if !isPosition(name) || s.sds != nil {
			continue
		}
		sd, ok := figureSD(figures[placeFigures[name[len(name)-2:]]])
		if !ok {
			continue
		}
		s.sds = make([]float64, len(s.values))
		for i := range s.sds {
			s.sds[i] = placeInflation * sd
		}
		c.series[name] = s
	}
}

// center counts horizontal positions from mid-hip at contact, or from the grip
// at contact where the hips are not known: where the player stood on the court
// is no part of his swing.
func (c *curves) center() {
	for _, axis := range []string{".x", ".z"} {
		origin, sd := c.origin(axis)
		if math.IsNaN(origin) {
			continue
		}
		for name, s := range c.series {
			if !strings.HasSuffix(name, axis) {
				continue
			}
			for i := range s.values {
				s.values[i] -= origin
			}
			for i := range s.sds {
				s.sds[i] = math.Hypot(s.sds[i], sd)
			}
		}
	}
}

// origin returns where horizontal positions count from, with its error; NaN
// when neither hips nor grip are known at contact.
func (c *curves) origin(axis string) (x, sd float64) {
	left, right := "left_hip"+axis, "right_hip"+axis
	if x = (c.atContact(left) + c.atContact(right)) / 2; !math.IsNaN(x) {
		return x, math.Hypot(sdAt(c.times, c.series[left], 0), sdAt(c.times, c.series[right], 0)) / 2
	}
	return c.atContact(c.grip + axis), sdAt(c.times, c.series[c.grip+axis], 0)
}

func (c *curves) rescale(k scale) {
	if !k.known {
		return
	}
	for name, s := range c.series {
		if s.unit != "m" {
			continue
		}
		for i := range s.values {
			s.values[i] *= k.factor
		}
		for i := range s.sds {
			s.sds[i] = math.Hypot(s.sds[i]*k.factor, s.values[i]*k.relative)
		}
		c.series[name] = s
	}
}

// interpolate returns y at time t, linear between samples; NaN outside. Where
// an instant stands twice (contact), the first counts.
func interpolate(times, y []float64, t float64) float64 {
	n := len(times)
	i := sort.SearchFloat64s(times, t)
	switch {
	case i == n || i == 0 && t < times[0]:
		return absent
	case times[i] == t:
		return y[i]
	}
	w := (t - times[i-1]) / (times[i] - times[i-1])
	return y[i-1] + w*(y[i]-y[i-1])
}

// course samples the grip's place over one phase on an even grid; nil when the
// phase or the grip is not known.
func (c *curves) course(s *measure.Sheet, kind phase.Kind) [][3]float64 {
	contact, ok := s.Event(phase.Contact)
	for _, p := range s.Phases {
		if p.Kind == kind && ok {
			return c.sampled(p.Start-contact.Time, p.End-contact.Time)
		}
	}
	return nil
}

func (c *curves) sampled(from, to float64) [][3]float64 {
	out := make([][3]float64, elasticSteps)
	for i := range out {
		t := from + (to-from)*float64(i)/(elasticSteps-1)
		for k, axis := range []string{".x", ".y", ".z"} {
			v, ok := c.series[c.grip+axis]
			if !ok {
				return nil
			}
			out[i][k] = interpolate(c.times, v.values, t)
		}
		if math.IsNaN(out[i][0] + out[i][1] + out[i][2]) {
			return nil
		}
	}
	return out
}

// gap is what subtracting one curve from another gave.
type gap struct {
	name, unit string
	rms        float64
	rmsSD      float64 // RMS of the standard deviation
	largest    float64
	largestAt  float64
	largestZ   float64 // largest of max(0, |d| − allowance)/σ over the samples
	samples    int
	level      float64 // RMS of the reference
}

// subtract takes the reference curve from the candidate's along the alignment, within
// the swing.
// The error of each sample joins both curves' own and that of the timing:
//
//	σ² = σ_r² + σ_c² + (dc/dt · σ_t)²
//
// all times the inflation of unlike conditions.
func subtract(r, c *curves, name string, a alignment, e effect, within stretch) (gap, bool) {
	x, y := r.series[name], c.series[name]
	g := gap{name: name, unit: x.unit, largestZ: absent}
	if x.unit != y.unit {
		return g, false
	}
	floor := floorShare * curveMargin(x.unit, 0)
	for i, t := range r.times {
		if t < within.from || t > within.to {
			continue
		}
		u, st := a.at(t)
		d := interpolate(c.times, y.values, u) - x.values[i]
		if math.IsNaN(d) || math.IsInf(d, 0) {
			continue
		}
		sd := math.Sqrt(sq(sdAt(r.times, x, t))+sq(sdAt(c.times, y, u))+sq(slopeAt(c.times, y.values, u)*st)) * e.inflate
		if math.IsNaN(sd) && x.sds != nil && y.sds != nil {
			continue // a sample that its own trace could not vouch for
		}
		g.add(d, math.Max(sd, floor), t, x.values[i], e.allowance)
	}
	if g.samples == 0 {
		return g, false
	}
	n := float64(g.samples)
	g.rms, g.rmsSD, g.level = math.Sqrt(g.rms/n), math.Sqrt(g.rmsSD/n), math.Sqrt(g.level/n)
	return g, true
}

func (g *gap) add(d, sd, t, level, allowance float64) {
	g.rms += d * d
	g.rmsSD += sd * sd
	g.level += level * level
	g.samples++
	if math.Abs(d) > math.Abs(g.largest) || g.samples == 1 {
		g.largest, g.largestAt = d, t
	}
	if z := math.Max(0, math.Abs(d)-allowance) / sd; !(z <= g.largestZ) {
		g.largestZ = z
	}
}

// sdAt returns the curve's standard deviation at t; NaN when it has none.
func sdAt(times []float64, c curve, t float64) float64 {
	if c.sds == nil {
		return absent
	}
	return interpolate(times, c.sds, t)
}

// slopeAt returns the curve's slope at t by a difference over ± 10 ms; 0 at the ends.
func slopeAt(times, y []float64, t float64) float64 {
	const h = 0.010
	return finiteOr((interpolate(times, y, t+h)-interpolate(times, y, t-h))/(2*h), 0)
}

// curveMargin is the RMS difference of curves that a coach would act on.
// Common practice, no source.
func curveMargin(unit string, level float64) float64 {
	m, ok := marginByUnit[unit]
	if !ok {
		m = 0.1 * math.Abs(level)
	}
	if unit == "m/s" {
		m = math.Max(m, speedShare*math.Abs(level))
	}
	return m
}

// claim states the gap for judgement. A curve is as far from equal as its
// furthest sample; for equivalence its RMS counts.
func (g gap) claim(e effect) claim {
	return claim{d: g.rms, sd: g.rmsSD, margin: curveMargin(g.unit, g.level), allowance: e.allowance, tests: g.samples, blind: e.blind, z: g.largestZ, freedom: ensemble - 1}
}
