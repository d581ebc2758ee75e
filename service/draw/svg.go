package draw

import (
	"fmt"
	"html"
	"math"
	"strings"
)

// canvas collects the elements of an SVG picture.
type canvas struct{ b strings.Builder }

func newCanvas(width, height float64, label string) *canvas {
	c := &canvas{}
	fmt.Fprintf(&c.b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-label="%s">`,
		num(width), num(height), html.EscapeString(label))
	return c
}

// end closes the picture and returns it.
func (c *canvas) end() string {
	c.b.WriteString("</svg>")
	return c.b.String()
}

func (c *canvas) line(x1, y1, x2, y2 float64, class string) {
	fmt.Fprintf(&c.b, `<line x1="%s" y1="%s" x2="%s" y2="%s" class="%s"/>`, num(x1), num(y1), num(x2), num(y2), class)
}

func (c *canvas) rect(x, y, w, h float64, class string) {
	fmt.Fprintf(&c.b, `<rect x="%s" y="%s" width="%s" height="%s" class="%s"/>`, num(x), num(y), num(w), num(h), class)
}

func (c *canvas) circle(x, y, r float64, class string) {
	fmt.Fprintf(&c.b, `<circle cx="%s" cy="%s" r="%s" class="%s"/>`, num(x), num(y), num(r), class)
}

func (c *canvas) path(d, class string) {
	if d != "" {
		fmt.Fprintf(&c.b, `<path d="%s" class="%s"/>`, d, class)
	}
}

func (c *canvas) text(x, y float64, class, text string) {
	fmt.Fprintf(&c.b, `<text x="%s" y="%s" class="%s">%s</text>`, num(x), num(y), class, html.EscapeString(text))
}

// style puts the rules into the picture, for one that stands alone.
func (c *canvas) style(rules string) { fmt.Fprintf(&c.b, "<style>%s</style>", rules) }

// num writes a coordinate to a tenth of a pixel.
func num(x float64) string {
	return strings.TrimSuffix(strings.Replace(fmt.Sprintf("%.1f", x), "-0.0", "0.0", 1), ".0")
}

// pen draws a path that may be interrupted.
type pen struct {
	d    strings.Builder
	down bool
}

// to goes to a point; NaN lifts the pen.
func (p *pen) to(x, y float64) {
	if math.IsNaN(x + y) {
		p.down = false
		return
	}
	command := "M"
	if p.down {
		command = "L"
	}
	fmt.Fprintf(&p.d, "%s%s %s", command, num(x), num(y))
	p.down = true
}

// ticks returns round values in [lo, hi], about n of them, and their step.
func ticks(lo, hi float64, n int) (at []float64, step float64) {
	rough := (hi - lo) / float64(n)
	if !(rough > 0) || math.IsInf(rough, 0) {
		return nil, 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(rough)))
	step = 10 * ten
	for _, k := range []float64{1, 2, 5} {
		if k*ten >= rough {
			step = k * ten
			break
		}
	}
	for v := math.Ceil(lo/step) * step; v <= hi+step*1e-9; v += step {
		at = append(at, v)
	}
	return at, step
}
