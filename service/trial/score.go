package trial

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// matchWithin is how near a found contact must be to a true one, s (real clock).
const matchWithin = 0.25

// NewReport is an empty report for one condition.
func NewReport(c synth.Condition, seed uint64) *Report {
	return &Report{Condition: c, Seed: seed, Measures: map[string]*Tally{}, Confused: map[[2]body.Stroke]int{}}
}

// Add scores the sheets of one clip.
func (r *Report) Add(clip *synth.Clip, sheets []*measure.Sheet, seed uint64) {
	r.True += len(clip.Truth)
	used := make([]bool, len(sheets))
	for i := range clip.Truth {
		t := &clip.Truth[i]
		best := nearest(clip, sheets, used, t.Contact)
		if best < 0 {
			r.Missed = append(r.Missed, Miss{r.Clips, seed, t.Stroke, t.Contact})
			continue
		}
		used[best] = true
		r.found(clip, t, sheets[best])
	}
	for i, s := range sheets {
		if !used[i] {
			r.Extra++
			at, _ := contactOf(clip, s)
			r.Missed = append(r.Missed, Miss{r.Clips, seed, body.StrokeUnknown, at})
		}
	}
	r.Clips++
}

// contactOf is a sheet's contact in real seconds of the clip.
func contactOf(clip *synth.Clip, s *measure.Sheet) (float64, bool) {
	e, ok := s.Event(phase.Contact)
	if !ok {
		return math.NaN(), false
	}
	return realTime(clip, s, e.Time), true
}

func realTime(clip *synth.Clip, s *measure.Sheet, t float64) float64 {
	return clip.Real(float64(s.StartUS) + t*1e6)
}

func nearest(clip *synth.Clip, sheets []*measure.Sheet, used []bool, contact float64) int {
	best, gap := -1, matchWithin
	for i, s := range sheets {
		at, ok := contactOf(clip, s)
		if d := math.Abs(at - contact); ok && !used[i] && d <= gap {
			best, gap = i, d
		}
	}
	return best
}

func (r *Report) found(clip *synth.Clip, t *synth.TrueSwing, s *measure.Sheet) {
	r.Found++
	if s.Stroke == t.Stroke {
		r.Named++
	}
	if s.Hand == t.Hand {
		r.HandRight++
	}
	r.Confused[[2]body.Stroke{t.Stroke, s.Stroke}]++
	for k := phase.EventUnknown + 1; k < phase.NumEvents; k++ {
		r.event(clip, t, s, k)
	}
	seen := map[string]bool{}
	for _, f := range s.Figures {
		seen[f.Name] = true
		r.figure(t, f)
	}
	for name := range t.Measures {
		if !seen[name] {
			r.tally(name).Refused++
		}
	}
}

func (r *Report) event(clip *synth.Clip, t *synth.TrueSwing, s *measure.Sheet, k phase.EventKind) {
	tally := &r.Events[k]
	tally.Unit = Milliseconds
	e, ok := s.Event(k)
	truth := t.Events[k]
	if t.EventSway[k] > eventBar(k, column(r.Condition))/2 {
		tally.Edge++
		return
	}
	switch {
	case math.IsNaN(truth) && ok:
		tally.Unasked++
	case math.IsNaN(truth):
	case !ok:
		tally.Refused++
	default:
		err := realTime(clip, s, e.Time) - truth
		sd := e.SD / clip.Stretch
		tally.score(err*1000, sd*1000, math.Abs(err) <= 1.96*sd)
	}
}

// score counts one error with its stated sd.
func (t *Tally) score(err, sd float64, covered bool) {
	t.Errors = append(t.Errors, math.Abs(err))
	t.Signed = append(t.Signed, err)
	t.Judged++
	if covered {
		t.Covered++
	}
	if !(math.Abs(err) <= 4*sd) {
		t.Lies++
	}
	t.Relative = append(t.Relative, err/sd)
}

func (r *Report) tally(name string) *Tally {
	t, ok := r.Measures[name]
	if !ok {
		t = &Tally{}
		r.Measures[name] = t
	}
	return t
}

func (r *Report) figure(t *synth.TrueSwing, f measure.Figure) {
	tally := r.tally(f.Name)
	truth, ok := t.Measures[f.Name]
	_, tally.Unit = errorIn(f.Name, 0, 1)
	if t.MeasureSway[f.Name] > bar(f.Name, column(r.Condition), truth)/2 {
		tally.Edge++
		return
	}
	switch {
	case !ok && f.Known():
		tally.Unasked++
	case !ok:
	case !f.Known():
		tally.Refused++
	default:
		err, _ := errorIn(f.Name, f.Value-truth, truth)
		sd, _ := errorIn(f.Name, f.SD, truth)
		tally.score(err, sd, f.Low <= truth && truth <= f.High)
	}
}
