package compare

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
)

// language is how a comparison speaks: formats by key, names of things.
type language struct {
	decimal string // sign
	formats map[string]string
	strokes [body.NumStrokes]string
	traits  map[string][3]string // noun, more, less; nil: as the traits have them
}

var english = language{
	decimal: ".",
	formats: map[string]string{
		"unlike_stroke":               "A %s is set against a %s: the figures stand side by side, without a verdict.",
		"clock_unverified":            "A clip's clock is not verified: times and speeds cannot be set side by side.",
		"unlike_clock":                "Slow motion differs (%.3g and %.3g times): times and speeds carry a wider error.",
		"ball_higher":                 "The candidate meets the ball %s higher: a high ball asks for a higher take-back.",
		"ball_lower":                  "The candidate meets the ball %s lower: a high ball asks for a higher take-back.",
		"unlike_view":                 "The swings were seen from unlike sides (%s and %s): one camera sees depth poorly, so errors count double.",
		"unlike_method":               "The figures were had in unlike ways (%.20s and %.20s): errors count half as much again.",
		"unlike_frame_rate":           "Frame rates differ (%.0f and %.0f Hz): times and speeds carry a wider error.",
		"unlike_swing_speed":          "The swings differ in speed (tip %s and %s): lag, turn and tempo follow the effort in part.",
		"unlike_stance":               "The stances differ by %s: hips and balance follow the stance in part.",
		"unlike_hand":                 "One player is left-handed: that swing is mirrored.",
		"lengths_not_scaled":          "The stature of one player or both is not known: lengths are compared as they are.",
		"event_order_differs":         "Some events come in another order: the alignment passes over them.",
		"no_trace":                    "A trace is missing or unfit: curves are not compared.",
		"elastic_alignment_disagrees": "In the %s the swings pass the same places at unlike times (%.0f %% of the phase): read its curves with care.",
		"behind":                      "behind", "front": "front", "right": "right", "left": "left",
		"take_back": "take-back", "drop": "drop", "forward_swing": "forward swing", "follow_through": "follow-through",

		"than":         " than in the reference",
		"same":         "%s: the same, %s here, %s in the reference.",
		"cannot_tell":  "%s: cannot tell. %s",
		"sides":        " (here %s, there %s)",
		"equal_time":   "both tips reach the ball in the same time (%s), so %s ± %s times the path asks for as many times the mean speed (%s against %s).",
		"unequal_time": "%s ± %s times the path in %s times the time makes %s times the mean speed (%s against %s).",
		"further":      ", so it has %s further to come.",
		"less_way":     ", so it has %s less way to the ball.",

		"none_has":        "Neither swing has it",
		"candidate_lacks": "The candidate does not have it",
		"reference_lacks": "The reference does not have it",
		"unlike_units":    "The two swings give it in different units.",
		"no_error":        "A figure came without its error.",
		"conditions":      "Unlike conditions may explain it: %s",
		"chance":          "A difference between %s and %s turns up by chance among %d comparisons.",
		"too_wide":        "A difference between %s and %s may be nothing, or more than the %s that would matter.",

		"sum_none":      "No figure differs beyond its error. ",
		"sum_different": "Different: %s%s. ",
		"sum_counts":    "%d figures are the same, %d cannot be told. ",
		"sum_fact":      "In the forward swing, %s ",
		"sum_more":      " and %d more",
		"sum_false":     "Of the differences named, at most %.0f in 100 are expected to be false (Benjamini–Hochberg over all figures and curves).",
		"sum_no_false":  "Of equal swings, at most %.0f pairs in 100 are expected to show a difference (Benjamini–Hochberg over all figures and curves).",

		"no_such_event":    "one of its events is not in the swing",
		"no_racket_points": "the racket's points were not seen",
		"no_ball":          "the ball was not seen",
		"no_body_points":   "points of the body that it needs were not seen",
		"no_head_points":   "the ears or the nose were not seen",
		"no_stature":       "the standing height is not known",
	},
	strokes: [body.NumStrokes]string{"unknown stroke", "forehand", "two-handed backhand", "one-handed backhand", "slice backhand", "serve", "forehand volley", "backhand volley", "overhead"},
}

var german = language{
	decimal: ",",
	formats: map[string]string{
		"unlike_stroke":               "Verglichen werden %s und %s: die Werte stehen nebeneinander, ohne Urteil.",
		"clock_unverified":            "Die Uhr eines Clips ist nicht geprüft: Zeiten und Tempi lassen sich nicht vergleichen.",
		"unlike_clock":                "Die Zeitlupe ist ungleich (%.3g- und %.3g-fach): Zeiten und Tempi haben einen größeren Fehler.",
		"ball_higher":                 "Der Vergleichsschlag trifft den Ball %s höher: ein hoher Ball verlangt höheres Ausholen.",
		"ball_lower":                  "Der Vergleichsschlag trifft den Ball %s tiefer: ein hoher Ball verlangt höheres Ausholen.",
		"unlike_view":                 "Die Schläge sind von ungleichen Seiten gesehen (%s und %s): eine Kamera sieht die Tiefe schlecht, die Fehler zählen doppelt.",
		"unlike_method":               "Die Werte sind auf ungleiche Art gewonnen (%.20s und %.20s): die Fehler zählen anderthalbfach.",
		"unlike_frame_rate":           "Die Bildraten sind ungleich (%.0f und %.0f Hz): Zeiten und Tempi haben einen größeren Fehler.",
		"unlike_swing_speed":          "Die Schläge sind ungleich schnell (Spitze %s und %s): Nachlauf, Drehung und Rhythmus folgen zum Teil dem Einsatz.",
		"unlike_stance":               "Die Beinstellungen unterscheiden sich um %s: Hüfte und Balance folgen zum Teil der Stellung.",
		"unlike_hand":                 "Ein Spieler ist Linkshänder: sein Schlag ist gespiegelt.",
		"lengths_not_scaled":          "Die Größe eines Spielers oder beider ist nicht bekannt: Längen werden verglichen, wie sie sind.",
		"event_order_differs":         "Einige Ereignisse kommen in anderer Reihenfolge: die Ausrichtung übergeht sie.",
		"no_trace":                    "Eine Spur fehlt oder taugt nicht: Kurven werden nicht verglichen.",
		"elastic_alignment_disagrees": "In der Phase »%s« sind die Schläge zu ungleichen Zeiten am selben Ort (%.0f %% der Phase): lies diese Kurven mit Vorsicht.",
		"behind":                      "hinten", "front": "vorn", "right": "rechts", "left": "links",
		"take_back": "Ausholen", "drop": "Fallenlassen", "forward_swing": "Vorschwung", "follow_through": "Ausschwung",

		"than":         " als in der Referenz",
		"same":         "%s: gleich, %s hier, %s in der Referenz.",
		"cannot_tell":  "%s: nicht zu sagen. %s",
		"sides":        " (hier %s, dort %s)",
		"equal_time":   "beide Spitzen erreichen den Ball in derselben Zeit (%s), also verlangt der (%s ± %s)-fache Weg das ebenso vielfache mittlere Tempo (%s gegen %s).",
		"unequal_time": "der (%s ± %s)-fache Weg in der %s-fachen Zeit ergibt das %s-fache mittlere Tempo (%s gegen %s).",
		"further":      ", sie hat also %s mehr Weg.",
		"less_way":     ", sie hat also %s weniger Weg zum Ball.",

		"none_has":        "Keiner der Schläge hat den Wert",
		"candidate_lacks": "Der Vergleichsschlag hat den Wert nicht",
		"reference_lacks": "Die Referenz hat den Wert nicht",
		"unlike_units":    "Die beiden Schläge geben ihn in verschiedenen Einheiten an.",
		"no_error":        "Ein Wert kam ohne seinen Fehler.",
		"conditions":      "Ungleiche Bedingungen können es erklären: %s",
		"chance":          "Ein Unterschied zwischen %s und %s kommt unter %d Vergleichen zufällig vor.",
		"too_wide":        "Ein Unterschied zwischen %s und %s kann keiner sein, oder mehr als die %s, auf die es ankäme.",

		"sum_none":      "Kein Wert unterscheidet sich über seinen Fehler hinaus. ",
		"sum_different": "Verschieden: %s%s. ",
		"sum_counts":    "%d Werte sind gleich, %d nicht zu sagen. ",
		"sum_fact":      "Im Vorschwung gilt: %s ",
		"sum_more":      " und %d weitere",
		"sum_false":     "Von den genannten Unterschieden sind höchstens %.0f von 100 falsch zu erwarten (Benjamini–Hochberg über alle Werte und Kurven).",
		"sum_no_false":  "Von gleichen Schlägen zeigen höchstens %.0f Paare von 100 einen Unterschied (Benjamini–Hochberg über alle Werte und Kurven).",

		"no_such_event":    "eines seiner Ereignisse gibt es in dem Schlag nicht",
		"no_racket_points": "die Punkte des Schlägers waren nicht zu sehen",
		"no_ball":          "der Ball war nicht zu sehen",
		"no_body_points":   "nötige Punkte des Körpers waren nicht zu sehen",
		"no_head_points":   "Ohren oder Nase waren nicht zu sehen",
		"no_stature":       "die Körpergröße ist nicht bekannt",
	},
	strokes: [body.NumStrokes]string{"unbekannter Schlag", "Vorhand", "beidhändige Rückhand", "einhändige Rückhand", "Rückhand-Slice", "Aufschlag", "Vorhandvolley", "Rückhandvolley", "Schmetterball"},
	traits:  germanTraits,
}

// languageOf returns the language of a BCP 47 locale; English for the unknown.
func languageOf(locale string) *language {
	if l := strings.ToLower(locale); l == "de" || strings.HasPrefix(l, "de-") || strings.HasPrefix(l, "de_") {
		return &german
	}
	return &english
}

// tell fills a format with its arguments.
func (l *language) tell(key string, args ...any) string {
	return fmt.Sprintf(l.formats[key], args...)
}

// warn makes a warning whose text is the format of the same name.
func (l *language) warn(code string, args ...any) measure.Warning {
	return measure.Warning{Code: code, Text: l.tell(code, args...)}
}

func (l *language) stroke(s body.Stroke) string {
	if s >= body.NumStrokes {
		s = body.StrokeUnknown
	}
	return l.strokes[s]
}

// spoken returns the trait with its words in the language.
func (l *language) spoken(t trait) trait {
	if w, ok := l.traits[t.name]; ok {
		t.noun, t.more, t.less = w[0], w[1], w[2]
	}
	return t
}

// capital begins a sentence with a noun.
func capital(s string) string {
	first, size := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(first)) + s[size:]
}

// amount writes a size as a coach says it: 22°, 8.0 cm, 3.1 m/s, 40 ms, −5°.
func (l *language) amount(x float64, unit string) string {
	return strings.Replace(strings.Replace(amount(x, unit), ".", l.decimal, 1), "-", "−", 1)
}

// ratio writes a ratio to two places.
func (l *language) ratio(x float64) string {
	return strings.Replace(fmt.Sprintf("%.2f", x), ".", l.decimal, 1)
}

func amount(x float64, unit string) string {
	if math.Abs(x) >= 1e6 {
		return strings.TrimSpace(fmt.Sprintf("%.3g %s", x, unit))
	}
	switch unit {
	case "deg":
		return fmt.Sprintf("%.0f°", x)
	case "deg/s":
		return fmt.Sprintf("%.0f°/s", x)
	case "m":
		return length(x)
	case "m/s":
		return fmt.Sprintf("%.1f m/s", x)
	case "s":
		return fmt.Sprintf("%.0f ms", 1000*x)
	case "1":
		return fmt.Sprintf("%.0f %%", 100*x)
	}
	return strings.TrimSpace(fmt.Sprintf("%.3g %s", x, unit))
}

// length writes metres: centimetres below one metre.
func length(x float64) string {
	switch a := math.Abs(x); {
	case a < 0.0995:
		return fmt.Sprintf("%.1f cm", 100*x)
	case a < 0.995:
		return fmt.Sprintf("%.0f cm", 100*x)
	}
	return fmt.Sprintf("%.2f m", x)
}
