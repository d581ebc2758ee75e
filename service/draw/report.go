package draw

import (
	"fmt"
	"html/template"
	"io"
	"math"
	"slices"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Report is a clip with its findings.
type Report struct {
	Title  string
	Clip   *pb.AnalyzeClipResponse
	Titles map[string]string // of measures, as the catalog gives them; a name without one stands for itself
}

// Write writes the report as one self-contained page without scripts.
func (r *Report) Write(w io.Writer) error {
	return reportPage.Execute(w, map[string]any{
		"Title": r.Title, "Style": template.CSS(pictureStyle + pageStyle), //nolint:gosec // constants of this package
		"Swings": r.swings(), "Warnings": r.Clip.GetWarnings(),
	})
}

type swingView struct {
	Number                int
	Heading, Sure, How    string
	Cues                  []cueView
	Warnings              []*pb.Warning
	Ribbon                template.HTML
	Figures               []picture
	Plots                 []template.HTML
	Headlines, Others     []measureView
	MethodNote, StartNote string
}

type cueView struct{ Class, Kind, Text, Drill string }

// picture is an SVG with words under it.
type picture struct {
	SVG  template.HTML
	Text string
}

type measureView struct {
	Title, Value, Interval, Grade, Reason string
	Rough                                 bool
	Whisker                               template.HTML
}

func (r *Report) swings() []swingView {
	var all []swingView
	for i, s := range r.Clip.GetSwings() {
		from, to := span(s)
		v := swingView{
			Number: i + 1, Heading: capital(strokeWords(s.GetStroke())),
			Sure:     fmt.Sprintf("%.0f %% sure, %s-handed", 100*s.GetStrokeConfidence(), words(s.GetDominantHand().String(), "HAND_")),
			Cues:     cues(s.GetCues()),
			Warnings: s.GetWarnings(),
			Ribbon:   picturesHTML(ribbon(s, from, to)),
			Figures:  figures(s),
			Plots:    plots(s, from, to),
			How:      how(s.GetCapture()),
		}
		for _, m := range s.GetMeasures() {
			if slices.Contains(headline, m.GetName()) {
				v.Headlines = append(v.Headlines, r.measure(m))
			} else {
				v.Others = append(v.Others, r.measure(m))
			}
		}
		all = append(all, v)
	}
	return all
}

// headline are the measures shown first.
var headline = []string{
	"racket_speed.tip.contact", "racket_speed.hand.contact", "lag.max", "lag.contact", "lag.release_time", "path.rise_angle",
	"tempo.preparation", "tempo.forward_swing", "turn.shoulders.max", "turn.separation.max", "elbow.hitting.contact",
	"contact.height_waist", "contact.ahead", "spacing.hands",
}

func cues(list []*pb.Cue) []cueView {
	title := map[pb.CueKind]string{
		pb.CueKind_CUE_KIND_CORRECT: "Change one thing", pb.CueKind_CUE_KIND_KEEP: "Keep this",
		pb.CueKind_CUE_KIND_CAPTURE: "Help the camera", pb.CueKind_CUE_KIND_CAUTION: "Take care",
	}
	var all []cueView
	for _, c := range list {
		all = append(all, cueView{words(c.GetKind().String(), "CUE_KIND_"), title[c.GetKind()], c.GetText(), c.GetDrill()})
	}
	return all
}

func how(c *pb.Capture) string {
	if c == nil {
		return ""
	}
	said := fmt.Sprintf("Method: %s; %.0f frames a second", words(c.GetMethod(), ""), c.GetFrameRateHz())
	if c.GetViewpoint() != pb.Viewpoint_VIEWPOINT_UNSPECIFIED {
		said += "; seen from " + words(c.GetViewpoint().String(), "VIEWPOINT_")
	}
	if f := c.GetSlowMotionFactor(); math.Abs(f-1) > 0.02 && f > 0 {
		said += fmt.Sprintf("; slow motion × %.2f", f)
		if c.GetSlowMotionSd() > 0 {
			said += fmt.Sprintf(" ± %.2f", c.GetSlowMotionSd())
		}
	}
	return said + "."
}

// figures are the player at each event, in order of time.
func figures(s *pb.Swing) []picture {
	m := motionOf(s)
	events := slices.Clone(s.GetEvents())
	slices.SortStableFunc(events, func(a, b *pb.Event) int { return int(a.GetTimeUs() - b.GetTimeUs()) })
	var all []picture
	for _, e := range events {
		t := eventAt(s, e.GetKind())
		if svg := figureAt(s, m, t, "first"); svg != "" {
			all = append(all, picture{picturesHTML(svg), fmt.Sprintf("%s, %s", capital(eventWords(e.GetKind())), moment(t, float64(e.GetSdUs())/1e6))})
		}
	}
	return all
}

// moment says an instant from contact with its deviation.
func moment(t, sd float64) string {
	text := fmt.Sprintf("%.0f ± %.0f ms", math.Abs(t)*1000, sd*1000)
	switch {
	case t < -0.0005:
		return text + " before contact"
	case t > 0.0005:
		return text + " after contact"
	}
	return fmt.Sprintf("± %.1f ms", sd*1000)
}

func plots(s *pb.Swing, from, to float64) []template.HTML {
	list := []plot{
		{title: "Speed, m/s: racket tip (thick), hand (thin)", unit: "m/s", curves: []curve{curveOf(s, "racket_speed.tip", "first"), curveOf(s, "racket_speed.hand", "second")}},
		{title: "Lag, degrees", unit: "deg", curves: []curve{curveOf(s, "lag.angle", "first")}},
		{title: "Turn, degrees: shoulders (thick), hips (thin)", unit: "deg", curves: []curve{curveOf(s, "shoulder_turn", "first"), curveOf(s, "hip_turn", "second")}},
	}
	var all []template.HTML
	for _, p := range list {
		p.from, p.to, p.phases = from, to, s
		if svg := p.draw(false); svg != "" {
			all = append(all, picturesHTML(svg))
		}
	}
	return all
}

func (r *Report) measure(m *pb.Measure) measureView {
	v := measureView{Title: titled(r.Titles, m.GetName()), Grade: words(m.GetGrade().String(), "GRADE_"), Rough: m.GetGrade() == pb.Grade_GRADE_ROUGH}
	if m.GetReason() != "" {
		v.Reason = why(m.GetReason())
	}
	if m.Value == nil {
		return v
	}
	v.Value = plusMinus(m.GetValue(), m.GetSd(), m.GetUnit())
	if m.Low != nil && m.High != nil {
		v.Interval = between(m.GetLow(), m.GetHigh(), m.GetSd(), m.GetUnit())
		v.Whisker = picturesHTML(whisker(m.GetValue(), m.GetLow(), m.GetHigh(), v.Rough))
	}
	return v
}

func titled(titles map[string]string, name string) string {
	if t := titles[name]; t != "" {
		return capital(t)
	}
	return name
}

// picturesHTML marks a picture of this package as safe: its texts were escaped
// when they were written into it.
func picturesHTML(svg string) template.HTML { return template.HTML(svg) } //nolint:gosec // see above

// reportPage is the report's page. It allows no script and no other address.
var reportPage = template.Must(template.New("report").Parse(pageHead + `
<h1>{{.Title}}</h1>
<p class="soft">Swings found: {{len .Swings}}. ± is one standard deviation, bars and bands are 95 % intervals. A figure that could not be had says why.</p>
{{range .Warnings}}<p class="warning">{{.Text}}</p>{{end}}
{{range .Swings}}
<h2>{{.Number}}. {{.Heading}}</h2>
<p class="soft">{{.Sure}}. {{.How}}</p>
{{range .Cues}}<div class="cue {{.Class}}">{{.Kind}}<strong>{{.Text}}</strong>{{.Drill}}</div>{{end}}
{{range .Warnings}}<p class="warning">{{.Text}}</p>{{end}}
<figure>{{.Ribbon}}<figcaption class="soft">Phases. The bars under the ribbon are the error of each moment.</figcaption></figure>
{{if .Figures}}<div class="strip">{{range .Figures}}<figure>{{.SVG}}<figcaption>{{.Text}}</figcaption></figure>{{end}}</div>
<p class="soft">Seen from behind and to the side; a left-hander is shown mirrored. The thin line is the racket tip's path of the last quarter second.</p>{{end}}
<div class="plots">{{range .Plots}}<figure>{{.}}</figure>{{end}}</div>
<h3>Figures</h3>
{{template "measures" .Headlines}}
{{if .Others}}<details><summary>{{len .Others}} further figures</summary>{{template "measures" .Others}}</details>{{end}}
{{else}}<p>No swing was found.</p>{{end}}
</body></html>
{{define "measures"}}<div class="wide"><table><thead><tr><th scope="col">Figure</th><th scope="col">Value</th><th scope="col">95 % interval</th><th scope="col"></th><th scope="col">Grade</th></tr></thead><tbody>
{{range .}}<tr><th scope="row">{{.Title}}</th>{{if .Value}}<td class="number{{if .Rough}} rough{{end}}">{{.Value}}</td><td>{{.Interval}}</td><td class="picture">{{.Whisker}}</td><td>{{.Grade}}{{if .Reason}}: {{.Reason}}{{end}}</td>{{else}}<td>–</td><td colspan="2"></td><td>{{.Grade}}: {{.Reason}}</td>{{end}}</tr>
{{end}}</tbody></table></div>{{end}}
`))

const pageHead = `<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{{.Title}}</title><style>{{.Style}}</style></head><body>`
