package phase

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/track"
)

// Context says what a course does not: which stroke it is, and how far its
// heights can be trusted.
type Context struct {
	Stroke body.Stroke

	// HeightNoise is the standard deviation of the tip's height in this
	// course, metres. A local maximum of the tip's height that stands over what
	// is before it by less than bumpSDs of that is noise. 0: every local maximum
	// counts, as the definition has it.
	HeightNoise float64

	// RateDoubt is what is taken off the speed with which the tip rises where DROP_START is
	// sought, and handQuiet of it off the hand's where FORWARD_START is, m/s. An ensemble
	// whose members have it at random shows both of two instants between which the motion
	// all but rests or turns back. 0: both are read as they are.
	RateDoubt float64

	// FootNoise is the standard deviation of the ankles' height in this course,
	// metres, after smoothing. A hop that rises by less than hopSDs of that is noise. 0:
	// every hop counts, as the definition has it.
	FootNoise float64
}

// LeastHop returns how far the lower ankle must rise, metres, for a hop to be told.
func (c *Context) LeastHop() float64 { return math.Max(LeastHop, hopSDs*c.FootNoise) }

// Locate finds the events of one course; NaN where an event is absent. It is
// Curves.Read and Curves.Locate with scratch of its own.
func Locate(c *track.Course, ctx Context) Times {
	var k Curves
	k.Read(c, ctx)
	return k.Locate()
}

// None returns times with every event absent.
func None() Times {
	var t Times
	for i := range t {
		t[i] = math.NaN()
	}
	return t
}

// TimesOf returns the instants of events; NaN for those that are not listed.
func TimesOf(events []Event) Times {
	t := None()
	for _, e := range events {
		if e.Kind < NumEvents {
			t[e.Kind] = e.Time
		}
	}
	return t
}

// Has reports whether every one of the events is there.
func (t *Times) Has(kinds ...EventKind) bool {
	for _, k := range kinds {
		if math.IsNaN(t[k]) {
			return false
		}
	}
	return true
}

// DropOrTurn returns the instant of DropStart; where that is absent,
// TurnComplete stands in for it.
func (t *Times) DropOrTurn() float64 {
	if math.IsNaN(t[DropStart]) {
		return t[TurnComplete]
	}
	return t[DropStart]
}
