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
func words(s Summary, of habit, groups []*session, locale string) string {
	p := phrasesFor(locale)
	if len(groups) == 0 {
		return p.none
	}
	var parts []string
	for _, c := range s.Counts {
		parts = append(parts, fmt.Sprintf("%d × %s", c.Count, p.strokes[c.Stroke]))
	}
	out := []string{fmt.Sprintf(p.played, strings.Join(parts, ", "))}
	out = append(out, list(p.changed, changed(s.Figures, locale))...)
	out = append(out, list(p.trends, trending(s.Figures, locale))...)
	out = append(out, p.typical)
	if s.Focus != nil {
		out = append(out, fmt.Sprintf(p.focus, p.strokes[of.stroke], of.count, of.swings, s.Focus.Text))
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
	return []string{fmt.Sprintf(format, strings.Join(names, "; ")+more)}
}

// changed lists what differs from the baseline.
func changed(figures []Figure, locale string) []string {
	var out []string
	for _, f := range figures {
		if f.ChangeVerdict == compare.Different {
			out = append(out, compare.Say(f.Measure, f.Unit, f.ChangeFromBaseline, locale))
		}
	}
	return out
}

// perTrend is over how many swings a trend is told: over one it is too little to see.
const perTrend = 10

// trending lists the trends that stand when all are judged together.
func trending(figures []Figure, locale string) []string {
	p := make([]float64, len(figures))
	for i, f := range figures {
		p[i] = f.TrendP
	}
	var out []string
	for i, found := range signal.BenjaminiHochberg(p, falseDiscovery) {
		if f := figures[i]; found && !math.IsNaN(f.TrendPerSwing) && f.TrendPerSwing != 0 {
			out = append(out, compare.Say(f.Measure, f.Unit, perTrend*f.TrendPerSwing, locale))
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
	changed: "Since the baseline: %s.",
	trends:  "Over ten swings: %s.",
	typical: "The typical swing is the one nearest to all others; the best is the fastest at the tip among those with the fewest corrections due.",
	focus:   "Next time, %s (called for by %d of %d): %s",
	strokes: [body.NumStrokes]string{"unknown stroke", "forehand", "two-handed backhand", "one-handed backhand", "slice backhand", "serve", "forehand volley", "backhand volley", "overhead"},
}

var german = phrases{
	none:    "Keine Schläge zum Zusammenfassen.",
	played:  "Gespielt: %s.",
	changed: "Gegenüber früher: %s.",
	trends:  "Über zehn Schläge: %s.",
	typical: "Der typische Schlag liegt allen anderen am nächsten; der beste ist der schnellste an der Spitze unter denen mit den wenigsten Korrekturen.",
	focus:   "Fürs nächste Mal, %s (bei %d von %d): %s",
	strokes: [body.NumStrokes]string{"unbekannter Schlag", "Vorhand", "beidhändige Rückhand", "einhändige Rückhand", "Rückhand-Slice", "Aufschlag", "Vorhandvolley", "Rückhandvolley", "Schmetterball"},
}

// phrasesFor returns the language of a BCP 47 locale; English for the unknown.
func phrasesFor(locale string) phrases {
	if l := strings.ToLower(locale); l == "de" || strings.HasPrefix(l, "de-") || strings.HasPrefix(l, "de_") {
		return german
	}
	return english
}
