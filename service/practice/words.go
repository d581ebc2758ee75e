package practice

import (
	"fmt"
	"math"
	"strings"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/signal"
)

// words tells the summary in a few sentences of the language asked for.
func words(s Summary, groups []*session, locale string) string {
	p := phrasesFor(locale)
	if len(groups) == 0 {
		return p.none
	}
	var parts []string
	for _, c := range s.Counts {
		parts = append(parts, fmt.Sprintf("%d × %s", c.Count, p.strokes[c.Stroke]))
	}
	out := []string{fmt.Sprintf(p.played, strings.Join(parts, ", "))}
	out = append(out, list(p.changed, changed(s.Figures))...)
	out = append(out, list(p.trends, trending(s.Figures))...)
	out = append(out, p.typical)
	if s.Focus != nil {
		out = append(out, fmt.Sprintf(p.focus, s.Focus.Text))
	}
	for _, c := range s.Cautions {
		out = append(out, c.Text)
	}
	return strings.Join(out, " ")
}

// named is how many measures a sentence lists at most.
const named = 3

func list(format string, names []string) []string {
	if len(names) == 0 {
		return nil
	}
	more := ""
	if len(names) > named {
		more = " …"
		names = names[:named]
	}
	return []string{fmt.Sprintf(format, strings.Join(names, ", ")+more)}
}

// changed lists what differs from the baseline.
func changed(figures []Figure) []string {
	var out []string
	for _, f := range figures {
		if f.ChangeVerdict == compare.Different {
			out = append(out, fmt.Sprintf("%s %+.3g %s", f.Measure, f.ChangeFromBaseline, f.Unit))
		}
	}
	return out
}

// trending lists the trends that stand when all are judged together.
func trending(figures []Figure) []string {
	p := make([]float64, len(figures))
	for i, f := range figures {
		p[i] = f.TrendP
	}
	var out []string
	for i, found := range signal.BenjaminiHochberg(p, falseDiscovery) {
		if f := figures[i]; found && !math.IsNaN(f.TrendPerSwing) && f.TrendPerSwing != 0 {
			out = append(out, fmt.Sprintf("%s %+.2g %s", f.Measure, f.TrendPerSwing, f.Unit))
		}
	}
	return out
}

// phrases are the sentences in one language.
type phrases struct {
	none, played, changed, trends, typical, focus string
	strokes                                       [body.NumStrokes]string
}

var english = phrases{
	none:    "No swings to summarise.",
	played:  "Played: %s.",
	changed: "Changed since the baseline: %s.",
	trends:  "Moving from swing to swing: %s.",
	typical: "The typical swing is the one nearest to all others; the best is the fastest at the tip among those with the fewest corrections due.",
	focus:   "Next time: %s",
	strokes: [body.NumStrokes]string{"unknown stroke", "forehand", "two-handed backhand", "one-handed backhand", "slice backhand", "serve", "forehand volley", "backhand volley", "overhead"},
}

var german = phrases{
	none:    "Keine Schläge zum Zusammenfassen.",
	played:  "Gespielt: %s.",
	changed: "Verändert gegenüber früher: %s.",
	trends:  "Von Schlag zu Schlag in Bewegung: %s.",
	typical: "Der typische Schlag liegt allen anderen am nächsten; der beste ist der schnellste an der Spitze unter denen mit den wenigsten Korrekturen.",
	focus:   "Fürs nächste Mal: %s",
	strokes: [body.NumStrokes]string{"unbekannter Schlag", "Vorhand", "beidhändige Rückhand", "einhändige Rückhand", "Rückhand-Slice", "Aufschlag", "Vorhandvolley", "Rückhandvolley", "Schmetterball"},
}

// phrasesFor returns the language of a BCP 47 locale; English for the unknown.
func phrasesFor(locale string) phrases {
	if l := strings.ToLower(locale); l == "de" || strings.HasPrefix(l, "de-") || strings.HasPrefix(l, "de_") {
		return german
	}
	return english
}
