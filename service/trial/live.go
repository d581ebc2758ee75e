package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// Called is a provisional event as it was announced: real seconds of the clip.
type Called struct {
	Kind    phase.EventKind
	At, SD  float64 // when the event is said to have been, and its sd
	Heard   float64 // time of the newest frame when it was announced
	TakenBy float64 // time of the newest frame when it was withdrawn; NaN: it stands
}

// LiveReport is how provisional events fared.
type LiveReport struct {
	Condition synth.Condition
	Seed      uint64
	True      int
	Events    [phase.NumEvents]LiveTally
}

// LiveTally is one kind of event. Errors and delays are milliseconds.
type LiveTally struct {
	Tally             // called − true, of the last call that stands
	Delays  []float64 // from the first frame that shows the true event until the call was heard
	Missing int       // true events with no standing call
	Stray   int       // standing calls that no true event answers
	Taken   int       // calls that were withdrawn
}

// liveWithin is how far a call may lie from its event, s.
const liveWithin = 0.5

// Play listens to a clip: what was called, and when.
type Play func(synth.Clip) ([]Called, error)

// RunLive makes clips as Run does and scores the calls.
func RunLive(c synth.Condition, n int, seed uint64, play Play) (*LiveReport, error) {
	r := &LiveReport{Condition: c, Seed: seed}
	for i := uint64(0); r.True < n; i++ {
		clip := synth.Sample(c, mostInClip, seed*1_000_003+i)
		calls, err := play(clip)
		if err != nil {
			return r, err
		}
		r.Add(&clip, calls)
	}
	return r, nil
}

// liveKinds are the events that are called live.
var liveKinds = []phase.EventKind{phase.TurnStart, phase.ForwardStart, phase.Contact}

// Add scores the calls of one clip.
func (r *LiveReport) Add(clip *synth.Clip, calls []Called) {
	r.True += len(clip.Truth)
	for _, k := range liveKinds {
		r.kind(clip, calls, k)
	}
}

func (r *LiveReport) kind(clip *synth.Clip, calls []Called, k phase.EventKind) {
	t := &r.Events[k]
	t.Unit = Milliseconds
	used := make([]bool, len(calls))
	frames := frameTimes(clip)
	for i := range clip.Truth {
		at := clip.Truth[i].Events[k]
		if math.IsNaN(at) {
			continue
		}
		best := answering(calls, used, k, at)
		if best < 0 {
			t.Missing++
			continue
		}
		used[best] = true
		c := &calls[best]
		t.score((c.At-at)*1000, c.SD*1000, math.Abs(c.At-at) <= 1.96*c.SD)
		t.Delays = append(t.Delays, (c.Heard-shown(frames, at))*1000)
	}
	for i := range calls {
		switch {
		case calls[i].Kind != k:
		case !math.IsNaN(calls[i].TakenBy):
			t.Taken++
		case !used[i]:
			t.Stray++
		}
	}
}

// frameTimes returns when the frames of the clip's first camera were taken, real seconds.
func frameTimes(clip *synth.Clip) (at []float64) {
	for i := range clip.Frames {
		if clip.Frames[i].Camera == 0 {
			at = append(at, clip.Real(float64(clip.Frames[i].TimeUS)))
		}
	}
	return at
}

// shown returns the time of the first frame that can show an event: no call can be
// heard before it.
func shown(frames []float64, at float64) float64 {
	if i, _ := slices.BinarySearch(frames, at); i < len(frames) {
		return frames[i]
	}
	return at
}

// answering returns the standing call nearest to a true event; −1: none.
func answering(calls []Called, used []bool, k phase.EventKind, at float64) int {
	best, gap := -1, liveWithin
	for i := range calls {
		c := &calls[i]
		if d := math.Abs(c.At - at); c.Kind == k && math.IsNaN(c.TakenBy) && !used[i] && d <= gap {
			best, gap = i, d
		}
	}
	return best
}

// atOnce is within how many ms of the frame that shows it CONTACT is to be called.
const atOnce = 60

// AtOnce returns the share of all true events that a standing call answered within
// atOnce, percent.
func (t *LiveTally) AtOnce() float64 {
	n := 0
	for _, d := range t.Delays {
		if d <= atOnce {
			n++
		}
	}
	return percent(n, len(t.Delays)+t.Missing)
}

// Table sets the report out as plain text.
func (r *LiveReport) Table() string {
	var b strings.Builder
	fmt.Fprintf(&b, "condition %c, seed %d: %d strokes, events as they are called, ms\n\n", r.Condition, r.Seed, r.True)
	fmt.Fprintf(&b, "%-15s %8s %8s %8s %8s | %8s %8s %8s %8s | %7s %7s %7s\n", "event", "median", "p90", "bias", "covered",
		"delay", "p90", "p95", "≤60", "missing", "stray", "taken")
	for _, k := range liveKinds {
		t := &r.Events[k]
		fmt.Fprintf(&b, "%-15s %8s %8s %8s %7s%% | %8s %8s %8s %7s%% | %7d %7d %7d\n", eventNames[k], number(t.Median()), number(t.P90()), number(t.Bias()), number(t.Coverage()),
			number(quantile(t.Delays, 0.5)), number(quantile(t.Delays, 0.9)), number(quantile(t.Delays, 0.95)), number(t.AtOnce()), t.Missing, t.Stray, t.Taken)
	}
	return b.String()
}
