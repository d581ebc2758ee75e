package check

import (
	"math"
	"sync"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/synth"
)

// ReasonMade is why an error is foretold wider than the machine will state it.
const ReasonMade = "made strokes filmed from here came out further off than their stated errors"

// A stated error is put aside where the median of at least leastHeld films lies
// outside its 95 % interval: for honest errors three films do so in 0.7 % of cases.
const (
	leastHeld = 3
	outside   = 1.96 // sd
	perMedian = 1 / 0.6745
)

// hold sets the figures against the truth of the made strokes. Where the machine
// would state an error that most films belie, the error that they made stands in
// its place.
func (o *Outlook) hold(sheets []*measure.Sheet) {
	truths := o.truths(sheets)
	for i, row := range measure.Catalog() {
		f := &o.Figures[i]
		if !f.Known() {
			continue
		}
		made := errorsMade(&row, truths, sheets)
		if len(made) < leastHeld {
			continue
		}
		off := signal.Median(made)
		if !(off > outside*f.SD) {
			continue
		}
		f.SD = perMedian * off
		switch {
		case f.Grade == measure.Good && f.SD > row.PromisedSD:
			f.Grade, f.Reason = measure.Rough, ReasonMade
		case f.Grade == measure.Rough:
			f.Reason += "; " + ReasonMade
		}
	}
}

// truths are those of the takes whose sheets are there.
func (o *Outlook) truths(sheets []*measure.Sheet) []synth.TrueSwing {
	out := make([]synth.TrueSwing, len(sheets))
	var wait sync.WaitGroup
	for j := range sheets {
		if sheets[j] != nil {
			wait.Go(func() { out[j] = o.scene.motion(o.takes[j]).Truth(0, o.scene.court) })
		}
	}
	wait.Wait()
	return out
}

// errorsMade lists the sizes of a measure's errors in the films that state a value.
// Truths that a hair's change of the motion would move far are left out.
func errorsMade(row *measure.Row, truths []synth.TrueSwing, sheets []*measure.Sheet) (out []float64) {
	for j, s := range sheets {
		truth, ok := truths[j].Measures[row.Name]
		if s == nil || !ok || truths[j].MeasureSway[row.Name] > row.PromisedSD/2 {
			continue
		}
		if f, ok := s.Figure(row.Name); ok && f.Known() {
			out = append(out, math.Abs(f.Value-truth))
		}
	}
	return out
}
