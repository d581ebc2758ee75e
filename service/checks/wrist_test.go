package checks

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/signal"
)

// cutoff is that of the recordings' own reference, Hz.
const cutoff = 12

// path is one point's path: even steps, m.
type path struct {
	from, rate float64 // s, Hz
	at         []geom.Vec3
}

// tracePath is a point's path in a sheet's trace, on the frames' clock.
func tracePath(s *measure.Sheet, p body.Point) path {
	x, y, z := curveOf(s, p.String()+".x"), curveOf(s, p.String()+".y"), curveOf(s, p.String()+".z")
	if x == nil {
		return path{}
	}
	out := path{from: when(s, phase.Contact) + float64(s.Trace.Times[0]), rate: 1 / measure.TraceStep}
	for i := range x {
		out.at = append(out.at, geom.Vec3{X: x[i], Y: y[i], Z: z[i]})
	}
	return out
}

// recordedPath is a point's path in the recording itself.
func (r *recording) recordedPath(p body.Point) path {
	out := path{from: r.times[0], rate: r.about.FPS}
	for i := range r.places {
		out.at = append(out.at, r.places[i][p])
	}
	return out
}

// filtered is the path as the recordings' reference filters: forward and backward
// through a second-order Butterworth filter at 12 Hz.
func (p path) filtered() path {
	axis := func(of func(geom.Vec3) float64) []float64 {
		v := make([]float64, len(p.at))
		for i := range v {
			v[i] = of(p.at[i])
		}
		return signal.ZeroLag(v, cutoff, p.rate)
	}
	x := axis(func(v geom.Vec3) float64 { return v.X })
	y := axis(func(v geom.Vec3) float64 { return v.Y })
	z := axis(func(v geom.Vec3) float64 { return v.Z })
	out := path{from: p.from, rate: p.rate}
	for i := range x {
		out.at = append(out.at, geom.Vec3{X: x[i], Y: y[i], Z: z[i]})
	}
	return out
}

// speeds are central differences; the ends stand still.
func (p path) speeds() []float64 {
	v := make([]float64, len(p.at))
	for i := 1; i < len(v)-1; i++ {
		v[i] = p.at[i+1].Sub(p.at[i-1]).Norm() * p.rate / 2
	}
	return v
}

// fastest is the largest speed within half a second of near, and when.
func (p path) fastest(near float64) (speed, at float64) {
	for i, v := range p.speeds() {
		if t := p.from + float64(i)/p.rate; v > speed && math.Abs(t-near) < .5 {
			speed, at = v, t
		}
	}
	return speed, at
}

// peaks are the instants, a second apart at least, at which the path is fastest and
// over least m/s.
func (p path) peaks(least float64) (at []float64) {
	var top []float64
	for i, v := range p.filtered().speeds() {
		t := p.from + float64(i)/p.rate
		switch n := len(at); {
		case v < least:
		case n == 0 || t-at[n-1] > 1:
			at, top = append(at, t), append(top, v)
		case v > top[n-1]:
			at[n-1], top[n-1] = t, v
		}
	}
	return at
}

// wristFigures compares one single-stroke clip.
type wristFigures struct {
	clip    *recording
	sheets  []*measure.Sheet
	contact float64 // CONTACT − the wrist's fastest instant, s
	own     float64 // our filter on the recording ÷ the recording's own reference − 1
	like    float64 // trace filtered in the same way ÷ reference − 1
	raw     float64 // trace unfiltered ÷ the recording's raw reference − 1
	top     float64 // largest unfiltered speed of the trace, m/s
}

func (r *recording) compare(sheets []*measure.Sheet) wristFigures {
	nan := math.NaN()
	w := wristFigures{r, sheets, nan, nan, nan, nan, nan}
	if len(sheets) != 1 {
		return w
	}
	ref := r.about.Ref
	own, _ := r.recordedPath(r.wrist()).filtered().fastest(ref.At)
	p := tracePath(sheets[0], r.wrist())
	like, _ := p.filtered().fastest(ref.At)
	raw, _ := p.fastest(ref.At)
	w.contact = when(sheets[0], phase.Contact) - ref.At
	w.own, w.like, w.raw = own/ref.Peak-1, like/ref.Peak-1, raw/ref.Raw-1
	w.top = slices.Max(p.speeds())
	return w
}
