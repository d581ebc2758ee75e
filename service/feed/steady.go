package feed

import (
	"math"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
)

// The challenge point's numbers; success near seven in ten is the usual aim of
// coaches (common practice, no source).
const (
	harderAt = 0.8 // share of balls that held together: harder from here
	easierAt = 0.5 // easier from here down
	judged   = 6   // newest swings that are judged
	compared = 12  // newest swings that set the player's own level
	fewest   = 4   // swings below which nothing is judged
)

// A ball held together when the racket came through at speedKept of the
// player's own median speed or more, and the ball was met within meetingWindow
// (or the figure's own error, where that is larger) of his median place.
// Common practice, no source.
const (
	speedKept     = 0.85
	meetingWindow = 0.15 // m
)

// places are where the ball is met.
var places = []string{"contact.ahead", "spacing.hands"}

// speeds are the racket's speed, the first that is known.
var speeds = []string{"racket_speed.tip.contact", "racket_speed.hand.contact"}

// steadiness returns the share of the newest swings that held together, each
// against the player's own level in that stroke; ok is false when fewer than
// fewest can be judged.
func steadiness(recent []*measure.Sheet) (share float64, ok bool) {
	recent = recent[max(0, len(recent)-compared):]
	held, n := 0, 0
	for _, s := range recent[max(0, len(recent)-judged):] {
		if s == nil {
			continue
		}
		if kept, ok := holds(s, recent); ok {
			n++
			if kept {
				held++
			}
		}
	}
	if n < fewest {
		return 0, false
	}
	return float64(held) / float64(n), true
}

// holds reports whether one swing held together; ok is false when its speed
// cannot be judged.
func holds(s *measure.Sheet, recent []*measure.Sheet) (kept, ok bool) {
	for _, name := range speeds {
		f, known := s.Figure(name)
		usual := medianOf(name, s, recent)
		if !known || !f.Known() || math.IsNaN(usual) {
			continue
		}
		return f.Value >= speedKept*usual && metAsUsual(s, recent), true
	}
	return false, false
}

func metAsUsual(s *measure.Sheet, recent []*measure.Sheet) bool {
	for _, name := range places {
		f, known := s.Figure(name)
		usual := medianOf(name, s, recent)
		if known && f.Known() && math.Abs(f.Value-usual) > math.Max(meetingWindow, 2*f.SD) {
			return false
		}
	}
	return true
}

// medianOf returns a measure's median over the recent swings of the same
// stroke; NaN when fewer than three have it.
func medianOf(name string, like *measure.Sheet, recent []*measure.Sheet) float64 {
	var x []float64
	for _, s := range recent {
		if s == nil || s.Stroke != like.Stroke {
			continue
		}
		if f, ok := s.Figure(name); ok && f.Known() {
			x = append(x, f.Value)
		}
	}
	if len(x) < 3 {
		return math.NaN()
	}
	return signal.Median(x)
}
