package draw

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// The plot's sheet, px.
const (
	plotWidth, plotHeight                    = 640, 240
	plotLeft, plotRight, plotTop, plotBottom = 56, 24, 14, 30
)

// plot is curves over seconds from contact.
type plot struct {
	title, unit string
	from, to    float64
	phases      *pb.Swing // whose phases shade the ground; nil: none
	curves      []curve
}

// draw returns the picture; empty when no curve has a value in the stretch.
func (p *plot) draw(alone bool) string {
	lo, hi, ok := p.extent()
	if !ok {
		return ""
	}
	x := func(t float64) float64 {
		return plotLeft + (t-p.from)/(p.to-p.from)*(plotWidth-plotLeft-plotRight)
	}
	y := func(v float64) float64 {
		return plotHeight - plotBottom - (v-lo)/(hi-lo)*(plotHeight-plotTop-plotBottom)
	}
	c := newCanvas(plotWidth, plotHeight, p.title)
	if alone {
		c.style(pictureStyle)
	}
	p.ground(c, x)
	at, step := ticks(lo, hi, 4)
	for _, v := range at {
		c.line(plotLeft, y(v), plotWidth-plotRight, y(v), "grid")
		c.text(plotLeft-6, y(v)+5, "tick end", fixed(v, max(0, -int(math.Floor(math.Log10(step)+1e-9)))))
	}
	times, _ := ticks(p.from, p.to, 6)
	for _, t := range times {
		c.text(x(t), plotHeight-9, "tick mid", timeText(t))
	}
	if p.from < 0 && p.to > 0 {
		c.line(x(0), plotTop, x(0), plotHeight-plotBottom, "contact")
	}
	for i := range p.curves {
		c.path(p.curves[i].band(x, y, p.from, p.to), "band "+p.curves[i].class)
		c.path(p.curves[i].trace(x, y, p.from, p.to), "line "+p.curves[i].class)
	}
	c.text(plotLeft+6, plotTop+16, "title", p.title)
	return c.end()
}

func timeText(t float64) string {
	if math.Abs(t) < 1e-9 {
		return "contact"
	}
	return fixed(t, 1) + " s"
}

// ground shades the phases.
func (p *plot) ground(c *canvas, x func(float64) float64) {
	if p.phases == nil {
		return
	}
	for _, s := range stretches(p.phases) {
		a, b := max(p.from, s.from), min(p.to, s.to)
		if b > a {
			c.rect(x(a), plotTop, x(b)-x(a), plotHeight-plotTop-plotBottom, "wash "+phaseClass(s.kind))
		}
	}
}

// extent returns the values' range with their bands, and 0.
func (p *plot) extent() (lo, hi float64, ok bool) {
	hi = math.Inf(-1)
	for _, c := range p.curves {
		for i, v := range c.v {
			if c.t[i] < p.from || c.t[i] > p.to || math.IsNaN(v) || math.IsInf(v, 0) {
				continue
			}
			e := z95 * c.sd[i]
			if !(e < math.Abs(v)+1) { // a band wider than this would flatten the curve; it is cut by the sheet
				e = 0
			}
			lo, hi = min(lo, v-e), max(hi, v+e)
		}
	}
	return lo, hi + 0.12*(hi-lo), hi > lo
}

// trace is the curve's path.
func (c *curve) trace(x, y func(float64) float64, from, to float64) string {
	var p pen
	for i, t := range c.t {
		if t >= from && t <= to {
			p.to(x(t), y(c.v[i]))
		}
	}
	return p.d.String()
}

// band outlines value ± 1.96 sd wherever both are known.
func (c *curve) band(x, y func(float64) float64, from, to float64) string {
	var d strings.Builder
	var upper, lower []string
	flush := func() {
		if len(upper) > 1 {
			slices.Reverse(lower)
			d.WriteString("M" + strings.Join(upper, "L") + "L" + strings.Join(lower, "L") + "Z")
		}
		upper, lower = nil, nil
	}
	for i, t := range c.t {
		e := z95 * c.sd[i]
		if t < from || t > to || math.IsNaN(c.v[i]+e) || math.IsInf(e, 0) {
			flush()
			continue
		}
		upper = append(upper, num(x(t))+" "+num(y(c.v[i]+e)))
		lower = append(lower, num(x(t))+" "+num(y(c.v[i]-e)))
	}
	flush()
	return d.String()
}

// Plot writes one series of a swing as an SVG picture that stands alone.
func Plot(w io.Writer, s *pb.Swing, series string) error {
	if seriesOf(s, series) == nil {
		return fmt.Errorf("the trace holds no %q; it holds %s", series, strings.Join(drawable(s), ", "))
	}
	from, to := span(s)
	p := plot{
		title: series + ", " + unitOf(s, series), from: from, to: to,
		phases: s, curves: []curve{curveOf(s, series, "first")},
	}
	picture := p.draw(true)
	if picture == "" {
		return fmt.Errorf("%q has no values in this swing", series)
	}
	_, err := io.WriteString(w, picture+"\n")
	return err
}

// drawable lists the series of a swing that are no coordinates.
func drawable(s *pb.Swing) []string {
	var names []string
	for _, x := range s.GetTrace().GetSeries() {
		if n := x.GetName(); !strings.HasSuffix(n, ".x") && !strings.HasSuffix(n, ".y") && !strings.HasSuffix(n, ".z") {
			names = append(names, n)
		}
	}
	return names
}

// stretch is a phase in seconds from contact.
type stretch struct {
	kind     pb.PhaseKind
	from, to float64
}

func stretches(s *pb.Swing) []stretch {
	contact := eventUS(s, pb.EventKind_EVENT_KIND_CONTACT)
	if math.IsNaN(contact) {
		return nil
	}
	var all []stretch
	for _, p := range s.GetPhases() {
		all = append(all, stretch{p.GetKind(), (float64(p.GetStartUs()) - contact) / 1e6, (float64(p.GetEndUs()) - contact) / 1e6})
	}
	return all
}

// ribbon draws the phases in [from, to] with the events and their errors under it.
func ribbon(s *pb.Swing, from, to float64) string {
	const width, height, band = 640, 64, 40
	x := func(t float64) float64 { return (min(max(t, from), to) - from) / (to - from) * width }
	var said []string
	c := newCanvas(width, height, "")
	for _, p := range stretches(s) {
		a, b := x(p.from), x(p.to)
		if b <= a {
			continue
		}
		c.rect(a, 0, b-a, band, phaseClass(p.kind))
		said = append(said, phaseWords(p.kind))
		if name := phaseWords(p.kind); b-a > 8*float64(len(name)) {
			c.text(a+5, 25, "name", name)
		}
	}
	for _, e := range s.GetEvents() {
		t, sd := eventAt(s, e.GetKind()), float64(e.GetSdUs())/1e6
		if !(t >= from && t <= to) {
			continue
		}
		half := max(1, sd/(to-from)*width)
		c.rect(x(t)-half, band+4, 2*half, 7, "error")
		c.line(x(t), 0, x(t), band+14, "mark")
	}
	return strings.Replace(c.end(), `aria-label=""`, `aria-label="Phases: `+strings.Join(said, ", ")+`"`, 1)
}

// whisker draws a 95 % interval on a scale that holds 0.
func whisker(v, low, high float64, rough bool) string {
	const width, height = 200, 22
	reach := max(math.Abs(low), math.Abs(high), 1e-9) * 1.08
	from, to := min(0, low*1.08), max(0, high*1.08)
	if to-from < reach*0.05 {
		to = from + reach
	}
	x := func(v float64) float64 { return 2 + (v-from)/(to-from)*(width-4) }
	c := newCanvas(width, height, "95 % interval")
	class := "span"
	if rough {
		class = "span rough"
	}
	c.line(2, 11, width-2, 11, "grid")
	c.line(x(0), 4, x(0), 18, "grid")
	c.line(x(low), 11, x(high), 11, class)
	c.line(x(low), 5, x(low), 17, "end")
	c.line(x(high), 5, x(high), 17, "end")
	c.line(x(v), 1, x(v), 21, "value")
	return c.end()
}

// gap draws a difference with its interval about a line at no difference; scale is
// half the width of the picture in the difference's unit.
func gap(d, sd, scale float64) string {
	const width, height = 200, 22
	x := func(v float64) float64 { return 100 + min(max(v/scale, -1.05), 1.05)*90 }
	c := newCanvas(width, height, "95 % interval of the difference")
	c.line(2, 11, width-2, 11, "grid")
	c.line(100, 0, 100, height, "zero")
	c.line(x(d-z95*sd), 11, x(d+z95*sd), 11, "span")
	c.line(x(d-z95*sd), 5, x(d-z95*sd), 17, "end")
	c.line(x(d+z95*sd), 5, x(d+z95*sd), 17, "end")
	c.line(x(d), 1, x(d), 21, "value")
	return c.end()
}
