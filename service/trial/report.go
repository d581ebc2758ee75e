package trial

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// Tally gathers one quantity over all swings.
type Tally struct {
	Unit     Unit
	Errors   []float64 // absolute, in Unit
	Signed   []float64 // found − true, in Unit
	Covered  int       // the 95 % interval held the truth
	Judged   int       // had an interval
	Lies     int       // more than 4 sd off
	Refused  int       // truth exists, no value given
	Unasked  int       // value given where the truth is that there is none
	Edge     int       // truth on a knife's edge: not scored
	Relative []float64 // error ÷ sd
}

// Median is the median absolute error, NaN when nothing was scored.
func (t *Tally) Median() float64 { return quantile(t.Errors, 0.5) }

// P90 is the 90th percentile of the absolute error.
func (t *Tally) P90() float64 { return quantile(t.Errors, 0.9) }

// Bias is the median signed error.
func (t *Tally) Bias() float64 { return quantile(t.Signed, 0.5) }

// Coverage is the share of intervals that held the truth, %.
func (t *Tally) Coverage() float64 { return percent(t.Covered, t.Judged) }

// Refusals is the share of true figures for which no value was given, %.
func (t *Tally) Refusals() float64 { return percent(t.Refused, t.Refused+len(t.Errors)) }

func percent(n, of int) float64 {
	if of == 0 {
		return math.NaN()
	}
	return 100 * float64(n) / float64(of)
}

// quantile interpolates between order statistics (type 7).
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Sorted(slices.Values(v))
	x := q * float64(len(s)-1)
	i := int(x)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[i] + (x-float64(i))*(s[i+1]-s[i])
}

// Report is the outcome of a trial.
type Report struct {
	Condition synth.Condition
	Seed      uint64
	Clips     int
	True      int // strokes that were made
	Found     int // of them
	Extra     int // sheets that no made stroke answers
	Named     int // of the found, stroke right
	HandRight int // of the found, hand right
	Failures  []string
	MSPerClip float64
	MSPer     float64 // ms for each true stroke

	Events   [phase.NumEvents]Tally
	Measures map[string]*Tally
	Confused map[[2]body.Stroke]int // made stroke, named stroke
	Missed   []Miss
}

// Miss is a stroke not found or invented, to look at.
type Miss struct {
	Clip    int
	Seed    uint64
	Stroke  body.Stroke // unknown for an invented one
	Contact float64     // real seconds in the clip
}

// EventCoverage is the share of events within 1.96 sd of the truth, %; lies the share beyond 4 sd.
func (r *Report) EventCoverage() (covered, lies float64) {
	var all Tally
	for k := range r.Events {
		all.add(&r.Events[k])
	}
	return all.Coverage(), percent(all.Lies, all.Judged)
}

// MeasureCoverage is the same over all measures graded GOOD or ROUGH.
func (r *Report) MeasureCoverage() (covered, lies float64) {
	var all Tally
	for _, t := range r.Measures {
		all.add(t)
	}
	return all.Coverage(), percent(all.Lies, all.Judged)
}

func (t *Tally) add(o *Tally) {
	t.Covered += o.Covered
	t.Judged += o.Judged
	t.Lies += o.Lies
}
