package check

import (
	"math"
	"strings"

	"example.com/courtkin/service/measure"
)

// leastRefusal is how many times what GOOD promises a refused error is at least.
const leastRefusal = 2

// credible bounds what more frames a second promise. Errors that differ from frame to
// frame average out with the root of their number, less in a speed, and lasting ones not
// at all. Three strokes may promise more: where a racket's side is told rightly in them
// and wrongly elsewhere, the odds of that hardly show in three. then is changed in place.
func (o *Outlook) credible(cue string, now, then []measure.Figure) []measure.Figure {
	e := &o.scene.eyes[0]
	share := math.Sqrt(e.rate * o.scene.slow / fastRate)
	if cue != cueRate || !(share < 1) {
		return then
	}
	for i, row := range measure.Catalog() {
		f := &then[i]
		least := share * now[i].SD
		if !now[i].Known() {
			if !strings.HasPrefix(now[i].Reason, measure.ReasonTooWide) {
				continue
			}
			least = share * leastRefusal * row.PromisedSD
		}
		if !f.Known() || !(f.SD < least) {
			continue
		}
		f.SD = least
		if f.Grade == measure.Good && f.SD > row.PromisedSD {
			f.Grade, f.Reason = measure.Rough, measure.ReasonWide
		}
	}
	return then
}
