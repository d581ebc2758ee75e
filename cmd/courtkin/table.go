package main

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// headline are the figures that a coach asks for first, in this order.
var headline = []string{
	"racket_speed.tip.contact", "racket_speed.hand.contact", "lag.max", "lag.contact", "lag.release_time",
	"path.rise_angle", "path.tip_drop", "tempo.preparation", "tempo.forward_swing",
	"turn.shoulders.max", "turn.hips.max", "turn.separation.max", "elbow.hitting.contact",
	"contact.height_waist", "contact.ahead", "spacing.hands", "spacing.reach",
	"legs.knee_back.max", "head.stillness", "chain.in_order",
}

// printClip prints what was found in a clip for a person to read.
func printClip(w io.Writer, name string, req *pb.AnalyzeClipRequest, res *pb.AnalyzeClipResponse, all bool) error {
	out := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintf(out, "%s: %s, %s\n", name, counted(frames(req), "frame"), counted(len(res.Swings), "swing"))
	printWarnings(out, "", res.Warnings)
	start := firstTime(req)
	for i, s := range res.Swings {
		fmt.Fprintln(out)
		printSwing(out, i+1, s, start, all)
	}
	return out.Flush()
}

func frames(req *pb.AnalyzeClipRequest) int {
	n := len(req.Frames)
	for _, b := range req.Blocks {
		n += len(b.TimeStepsUs) + 1
	}
	return n
}

func counted(n int, what string) string {
	if n != 1 {
		what += "s"
	}
	return fmt.Sprintf("%d %s", n, what)
}

// firstTime is the clip's first instant, from which a person counts.
func firstTime(req *pb.AnalyzeClipRequest) int64 {
	first := int64(math.MaxInt64)
	for _, f := range req.Frames {
		first = min(first, f.TimeUs)
	}
	for _, b := range req.Blocks {
		first = min(first, b.FirstTimeUs)
	}
	return first
}

func printSwing(w io.Writer, n int, s *pb.Swing, start int64, all bool) {
	fmt.Fprintf(w, "swing %d: %s (%.0f %% sure), %s-handed, %s\n", n,
		spaced(s.Stroke.String(), "STROKE_"), 100*s.StrokeConfidence, spaced(s.DominantHand.String(), "HAND_"), s.Id)
	fmt.Fprintf(w, "  phase\tfrom s\tto s\tlength s\n")
	for _, p := range s.Phases {
		fmt.Fprintf(w, "  %s\t%s\t%s\t%s\n", spaced(p.Kind.String(), "PHASE_KIND_"),
			seconds(p.StartUs-start), seconds(p.EndUs-start), seconds(p.EndUs-p.StartUs))
	}
	fmt.Fprintf(w, "\n  event\tat s\t± s\n")
	for _, e := range s.Events {
		fmt.Fprintf(w, "  %s\t%s\t%s\n", spaced(e.Kind.String(), "EVENT_KIND_"), seconds(e.TimeUs-start), seconds(e.SdUs))
	}
	fmt.Fprintf(w, "\n  figure\tvalue\t±\tunit\tgrade\t\n")
	for _, m := range s.Measures {
		if all || slices.Contains(headline, m.Name) {
			printMeasure(w, m)
		}
	}
	for _, c := range s.Cues {
		fmt.Fprintf(w, "\n  %s: %s %s\n", spaced(c.Kind.String(), "CUE_KIND_"), c.Text, c.Drill)
	}
	printWarnings(w, "  ", s.Warnings)
}

// printMeasure prints a figure with its standard deviation; one without a
// value prints why.
func printMeasure(w io.Writer, m *pb.Measure) {
	value, sd := "–", ""
	if m.Value != nil {
		d := decimals(m.GetSd())
		value, sd = fmt.Sprintf("%.*f", d, m.GetValue()), fmt.Sprintf("%.*f", d, m.GetSd())
	}
	fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%s\t%s\n", m.Name, value, sd, m.Unit, spaced(m.Grade.String(), "GRADE_"), m.Reason)
}

// decimals is how many decimals show two digits of the error.
func decimals(sd float64) int {
	if !(sd > 0) {
		return 2
	}
	return min(4, max(0, 1-int(math.Floor(math.Log10(sd)))))
}

func printWarnings(w io.Writer, indent string, ws []*pb.Warning) {
	for _, x := range ws {
		fmt.Fprintf(w, "%swarning %s: %s\n", indent, x.Code, x.Text)
	}
}

func seconds(us int64) string { return fmt.Sprintf("%.3f", float64(us)/1e6) }

// spaced writes an enum value as words: "EVENT_KIND_MAX_LAG" as "max lag",
// "STROKE_TWO_HANDED_BACKHAND" as "two-handed backhand".
func spaced(name, prefix string) string {
	words := strings.ReplaceAll(strings.TrimPrefix(name, prefix), "_HANDED", "-HANDED")
	return strings.ToLower(strings.ReplaceAll(words, "_", " "))
}
