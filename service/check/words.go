package check

import (
	_ "embed"
	"fmt"
	"math"
	"strings"

	"example.com/courtkin/service/cue"
)

//go:embed advice.json
var phrases []byte

// Phrases returns the cues that a check alone gives, in the form of the cue
// package's catalog, to be loaded beside it: their condition is never met by a swing.
func Phrases() []byte { return phrases }

// mostGains is how many figures are spelled out in a text.
const mostGains = 2

// Cues puts advice into the words of a book that holds Phrases and the service's own
// catalog; advice that it does not name is left out. Priority is the share of the
// errors that the change takes away, and 0.9 for what needs no figures.
func Cues(book *cue.Book, advice []Advice, locale string) []cue.Cue {
	var out []cue.Cue
	for _, a := range advice {
		c, ok := book.Named(a.Name, locale)
		if !ok {
			continue
		}
		c.Priority, c.Confidence = 0.9, 0.9
		if len(a.Gains) > 0 {
			c.Priority, c.Confidence = math.Max(0.05, math.Min(0.95, 1-math.Exp(-a.Benefit))), 0.8
			c.Text += " " + spell(a.Gains, german(locale))
			c.Evidence = nil
			for _, g := range a.Gains {
				c.Evidence = append(c.Evidence, g.Measure)
			}
		}
		out = append(out, c)
	}
	return out
}

func german(locale string) bool {
	primary, _, _ := strings.Cut(strings.ReplaceAll(strings.ToLower(locale), "_", "-"), "-")
	return primary == "de"
}

// spell says the first gains: "Then the racket's lag comes out to ±6° instead of ±14°."
func spell(gains []Gain, de bool) string {
	var parts []string
	for _, g := range gains[:min(len(gains), mostGains)] {
		name, to, from := names[g.Measure][0], amount(g.To, g.Unit, de), amount(g.From, g.Unit, de)
		if de {
			name = names[g.Measure][1]
		}
		switch {
		case math.IsNaN(g.From) && de:
			parts = append(parts, fmt.Sprintf("%s auf ±%s statt gar nicht", name, to))
		case math.IsNaN(g.From):
			parts = append(parts, fmt.Sprintf("%s to ±%s instead of not at all", name, to))
		case from == to && de:
			parts = append(parts, fmt.Sprintf("%s ohne Vorbehalt (±%s)", name, to))
		case from == to:
			parts = append(parts, fmt.Sprintf("%s without a doubt about the direction of play (±%s)", name, to))
		case de:
			parts = append(parts, fmt.Sprintf("%s auf ±%s statt ±%s", name, to, from))
		default:
			parts = append(parts, fmt.Sprintf("%s to ±%s instead of ±%s", name, to, from))
		}
	}
	if de {
		return "Dann wird gemessen: " + strings.Join(parts, ", ") + "."
	}
	return "Then you get " + strings.Join(parts, ", ") + "."
}

// amount writes a standard deviation as a person reads it.
func amount(sd float64, unit string, de bool) string {
	var text string
	switch unit {
	case "deg":
		text = fmt.Sprintf("%.0f°", math.Max(1, sd))
	case "m":
		text = fmt.Sprintf("%.0f cm", math.Max(1, 100*sd))
	case "s":
		text = fmt.Sprintf("%.0f ms", math.Max(1, 1000*sd))
	default:
		text = fmt.Sprintf("%.1f %s", sd, unit)
	}
	if de {
		text = strings.ReplaceAll(text, ".", ",")
	}
	return text
}

// names are the headline figures in English and German.
var names = map[string][2]string{
	"racket_speed.tip.contact": {"the tip's speed at the ball", "das Tempo der Spitze am Ball"},
	"lag.max":                  {"the racket's lag", "den Nachlauf des Schlägers"},
	"lag.release_time":         {"the time from lag to ball", "die Zeit vom Nachlauf zum Ball"},
	"path.rise_angle":          {"the racket's rise into the ball", "die Steigung der Bahn in den Ball"},
	"path.tip_drop":            {"the tip's drop under the ball", "den Fall der Spitze unter den Ball"},
	"turn.shoulders.max":       {"the shoulder turn", "die Schulterdrehung"},
	"turn.separation.max":      {"the twist of shoulders against hips", "die Verwringung von Schultern und Hüfte"},
	"elbow.hitting.contact":    {"the elbow at the ball", "den Ellbogen am Ball"},
	"contact.height":           {"the contact's height", "die Treffpunkthöhe"},
	"contact.ahead":            {"the contact ahead of the body", "den Treffpunkt vor dem Körper"},
	"spacing.hands":            {"the hands' distance from the body", "den Abstand der Hände vom Körper"},
	"legs.knee_back.max":       {"the back knee's bend", "die Beugung des hinteren Knies"},
	"tempo.forward_swing":      {"the forward swing's time", "die Dauer des Vorschwungs"},
}
