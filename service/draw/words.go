package draw

import (
	"fmt"
	"math"
	"strings"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// words turns an enum value into words: "EVENT_KIND_MAX_LAG" to "max lag".
func words(name, prefix string) string {
	said := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(name, prefix), "_", " "))
	return strings.ReplaceAll(said, " handed", "-handed")
}

func eventWords(k pb.EventKind) string { return words(k.String(), "EVENT_KIND_") }
func phaseWords(k pb.PhaseKind) string { return words(k.String(), "PHASE_KIND_") }
func strokeWords(s pb.Stroke) string   { return words(s.String(), "STROKE_") }
func phaseClass(k pb.PhaseKind) string { return "p-" + strings.ReplaceAll(phaseWords(k), " ", "-") }

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// shown is the factor from a unit of the contract to a coach's, and its sign.
func shown(unit string, size float64) (factor float64, sign string) {
	switch unit {
	case "deg":
		return 1, "°"
	case "deg/s":
		return 1, "°/s"
	case "m":
		if math.Abs(size) < 1 {
			return 100, " cm"
		}
	case "s":
		if math.Abs(size) < 1 {
			return 1000, " ms"
		}
	case "1", "":
		return 1, ""
	}
	return 1, " " + unit
}

// places is how many decimals show two digits of an error, at most three.
func places(e float64) int {
	if !(e > 0) || math.IsInf(e, 0) {
		return 1
	}
	return min(3, max(0, 1-int(math.Floor(math.Log10(e)))))
}

func fixed(x float64, n int) string {
	text := fmt.Sprintf("%.*f", n, x)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

// plusMinus writes value ± standard deviation.
func plusMinus(v, sd float64, unit string) string {
	factor, sign := shown(unit, v)
	if !(sd > 0) {
		return fixed(v*factor, 1) + sign
	}
	n := places(sd * factor)
	return fixed(v*factor, n) + " ± " + fixed(sd*factor, n) + sign
}

// between writes a 95 % interval.
func between(low, high, sd float64, unit string) string {
	factor, sign := shown(unit, high)
	n := places(sd * factor)
	return fixed(low*factor, n) + " to " + fixed(high*factor, n) + sign
}

// why writes a reason of the service as words.
func why(reason string) string {
	code, rest, more := strings.Cut(reason, ":")
	switch code {
	case "no_such_event":
		code = "this swing has no such moment"
	case "too_wide":
		code = "not sharp enough to give a number"
	default:
		code = strings.ReplaceAll(code, "_", " ")
	}
	if more {
		return code + ":" + rest
	}
	return code
}
