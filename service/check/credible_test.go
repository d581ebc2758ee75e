package check

import (
	"math"
	"testing"

	"example.com/courtkin/service/measure"
)

// Twice the frames take no more than a factor of √2 off an error, whatever few strokes
// say; other changes are not bounded.
func TestCredibleBoundsMoreFrames(t *testing.T) {
	i, _ := measure.Index("lag.max")
	promised := measure.Catalog()[i].PromisedSD
	for _, tt := range []struct {
		name      string
		cue       string
		now, then measure.Figure
		sd        float64
		grade     measure.Grade
	}{
		{"too good", cueRate, measure.Figure{SD: 1.9 * promised, Grade: measure.Rough}, measure.Figure{SD: 0.5 * promised, Grade: measure.Good}, 1.9 * promised / math.Sqrt2, measure.Rough},
		{"too good and yet good", cueRate, measure.Figure{SD: promised, Grade: measure.Good}, measure.Figure{SD: 0.2 * promised, Grade: measure.Good}, promised / math.Sqrt2, measure.Good},
		{"credible", cueRate, measure.Figure{SD: promised, Grade: measure.Good}, measure.Figure{SD: 0.9 * promised, Grade: measure.Good}, 0.9 * promised, measure.Good},
		{"refused from here", cueRate, measure.Figure{SD: math.NaN(), Reason: measure.ReasonTooWide + "± 40 deg"}, measure.Figure{SD: 0.5 * promised, Grade: measure.Good}, math.Sqrt2 * promised, measure.Rough},
		{"another place", cueRight, measure.Figure{SD: 1.9 * promised, Grade: measure.Rough}, measure.Figure{SD: 0.5 * promised, Grade: measure.Good}, 0.5 * promised, measure.Good},
	} {
		if tt.now.Grade == 0 {
			tt.now.Grade = measure.NotMeasurable
		}
		o := &Outlook{scene: scene{slow: 1, eyes: []eye{{sighting: sighting{rate: 60}}}}}
		now, then := make([]measure.Figure, len(measure.Catalog())), make([]measure.Figure, len(measure.Catalog()))
		now[i], then[i] = tt.now, tt.then
		got := o.credible(tt.cue, now, then)[i]
		if math.Abs(got.SD-tt.sd) > 1e-9*tt.sd || got.Grade != tt.grade {
			t.Errorf("%s: ± %g graded %d, want ± %g, %d", tt.name, got.SD, got.Grade, tt.sd, tt.grade)
		}
	}
}
