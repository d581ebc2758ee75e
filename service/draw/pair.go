package draw

import (
	"html/template"
	"io"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Pair is two swings with their comparison.
type Pair struct {
	Title                string
	Reference, Candidate *pb.Swing
	Names                [2]string // what to call them; empty: "reference", "other"
	Result               *pb.CompareSwingsResponse
	Titles               map[string]string // of measures
}

// Write writes the comparison as one self-contained page without scripts.
func (p *Pair) Write(w io.Writer) error {
	names := p.Names
	if names[0] == "" {
		names[0] = "reference"
	}
	if names[1] == "" {
		names[1] = "other"
	}
	from, to := p.span()
	return pairPage.Execute(w, map[string]any{
		"Title": p.Title, "Style": template.CSS(pictureStyle + pageStyle), //nolint:gosec // constants of this package
		"Names": names, "Result": p.Result, "Columns": p.columns(), "Figures": p.figures(),
		"Ribbons": []template.HTML{picturesHTML(ribbon(p.Reference, from, to)), picturesHTML(ribbon(p.Candidate, from, to))},
		"Plots":   p.plots(from, to), "Mirrored": p.Reference.GetDominantHand() != p.Candidate.GetDominantHand(),
	})
}

func (p *Pair) span() (from, to float64) {
	a, b := span(p.Reference)
	c, d := span(p.Candidate)
	return min(a, c), max(b, d)
}

// column is one of the three certainties.
type column struct {
	Class, Sign, Title, Meaning string
	Rows                        []row
}

type row struct {
	Title, Gap, Text, Phase string
	Picture                 template.HTML
}

func (p *Pair) columns() []column {
	all := []column{
		{Class: "same", Sign: "=", Title: "Same", Meaning: "Any difference is inside the error of measurement."},
		{Class: "different", Sign: "≠", Title: "Different", Meaning: "Larger than the error of measurement; heaviest first."},
		{Class: "cannot-tell", Sign: "?", Title: "Cannot tell", Meaning: "The reason says what was missing."},
	}
	scales := p.scales()
	for _, d := range p.Result.GetDifferences() {
		i := int(d.GetVerdict()) - int(pb.Verdict_VERDICT_SAME)
		if i < 0 || i >= len(all) {
			continue
		}
		r := row{Title: titled(p.Titles, d.GetMeasure()), Text: d.GetText()}
		if d.GetPhase() != pb.PhaseKind_PHASE_KIND_UNSPECIFIED {
			r.Phase = phaseWords(d.GetPhase())
		}
		if d.GetVerdict() == pb.Verdict_VERDICT_CANNOT_TELL {
			r.Text = why(d.GetReason())
		}
		if d.Difference != nil && d.Sd != nil {
			r.Gap = plusMinus(d.GetDifference(), d.GetSd(), d.GetUnit())
			r.Picture = picturesHTML(gap(d.GetDifference(), d.GetSd(), scales[d.GetUnit()]))
		}
		all[i].Rows = append(all[i].Rows, r)
	}
	return all
}

// scales is the largest difference of each unit, so that like is drawn alike.
func (p *Pair) scales() map[string]float64 {
	scale := map[string]float64{}
	for _, d := range p.Result.GetDifferences() {
		if reach := math.Abs(d.GetDifference()) + z95*d.GetSd(); !math.IsInf(reach, 0) && reach > scale[d.GetUnit()] {
			scale[d.GetUnit()] = reach
		}
	}
	for unit, s := range scale {
		if s == 0 {
			scale[unit] = 1
		}
	}
	return scale
}

// figures lay the two over one another at the moments that both have.
func (p *Pair) figures() []picture {
	a, b := motionOf(p.Reference), motionOf(p.Candidate)
	var all []picture
	for _, e := range p.Reference.GetEvents() {
		s, t := eventAt(p.Reference, e.GetKind()), eventAt(p.Candidate, e.GetKind())
		c := newCanvas(figureWidth, figureHeight, "Both players")
		if math.IsNaN(t) || !addFigure(c, a, s, "reference") || !addFigure(c, b, t, "candidate") {
			continue
		}
		all = append(all, picture{picturesHTML(c.end()), capital(eventWords(e.GetKind()))})
	}
	return all
}

func (p *Pair) plots(from, to float64) []template.HTML {
	var all []template.HTML
	for _, s := range []struct{ series, title, unit string }{
		{"racket_speed.tip", "Racket tip, m/s", "m/s"},
		{"lag.angle", "Lag, degrees", "deg"},
		{"shoulder_turn", "Shoulder turn, degrees", "deg"},
		{"separation", "Shoulders against hips, degrees", "deg"},
	} {
		drawn := plot{title: s.title, unit: s.unit, from: from, to: to, curves: []curve{
			curveOf(p.Reference, s.series, "reference"), curveOf(p.Candidate, s.series, "candidate"),
		}}
		if svg := drawn.draw(false); svg != "" {
			all = append(all, picturesHTML(svg))
		}
	}
	return all
}

var pairPage = template.Must(template.New("pair").Parse(pageHead + `
<h1>{{.Title}}</h1>
<p>{{.Result.Summary}}</p>
<p class="soft">Blue and broken: {{index .Names 0}}. Black: {{index .Names 1}}. ± is one standard deviation; bars and bands are 95 % intervals; the upright line in a bar is no difference.{{if .Mirrored}} One is left-handed and shown mirrored.{{end}}</p>
{{range .Result.Warnings}}<p class="warning">{{.Text}}</p>{{end}}
<h3>{{index .Names 0}}</h3><figure>{{index .Ribbons 0}}</figure>
<h3>{{index .Names 1}}</h3><figure>{{index .Ribbons 1}}</figure>
{{if .Figures}}<div class="strip">{{range .Figures}}<figure>{{.SVG}}<figcaption>{{.Text}}</figcaption></figure>{{end}}</div>{{end}}
<div class="plots">{{range .Plots}}<figure>{{.}}</figure>{{end}}</div>
<div class="columns">{{range .Columns}}<section class="column {{.Class}}"><h3>{{.Sign}} {{.Title}}: {{len .Rows}}</h3><p class="soft">{{.Meaning}}</p>
<ul>{{range .Rows}}<li><strong>{{.Title}}</strong>{{if .Gap}}: {{.Gap}}{{.Picture}}{{end}} <div>{{.Text}}</div>{{if .Phase}}<span class="tag">{{.Phase}}</span>{{end}}</li>{{end}}</ul></section>{{end}}</div>
</body></html>
`))
