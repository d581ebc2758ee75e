package checks

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

const mocapSource = "optical motion capture of real players, open data (sources and licences beside the recordings)"

// compared holds every single-stroke clip against its own reference, once.
func compared(t *testing.T) []wristFigures {
	f := analysed(t)
	wrists.Do(func() {
		for _, r := range singles(t) {
			wrists.all = append(wrists.all, r.compare(f[r.name]))
		}
	})
	return wrists.all
}

var wrists struct {
	sync.Once
	all []wristFigures
}

// share counts clips for which ok holds, in percent, and logs the others.
func share(t *testing.T, ok func(w *wristFigures) bool) float64 {
	all := compared(t)
	n := 0.
	for i := range all {
		if ok(&all[i]) {
			n++
		} else {
			t.Log("not so:", all[i].clip.name)
		}
	}
	return 100 * n / float64(len(all))
}

// allOf is a row that must hold for every clip.
func allOf(id, quantity string, ok func(w *wristFigures) bool) row {
	return row{id: id, quantity: quantity, unit: "%", want: 100, tol: .1, source: mocapSource, seen: computed,
		got: func(t *testing.T) float64 { return share(t, ok) }}
}

// worst is a row about the largest of a figure over the clips that count, NaN being failure.
func worst(id, quantity, unit string, bound float64, counts func(w *wristFigures) bool, of func(w *wristFigures) float64) row {
	return row{id: id, quantity: quantity, unit: unit, want: bound, below: true, source: mocapSource, seen: computed,
		got: func(t *testing.T) float64 {
			largest := 0.
			for _, w := range compared(t) {
				if !counts(&w) {
					continue
				}
				v := of(&w)
				if math.IsNaN(v) {
					return math.Inf(1)
				}
				largest = max(largest, v)
			}
			return largest
		}}
}

// contactTolerance is how far contact may lie from the wrist's fastest instant: a
// serve's wrist is highest up to 0.14 s before its fastest.
func contactTolerance(s body.Stroke) float64 {
	if s.OverheadMotion() {
		return .20
	}
	return .15
}

func isClean(w *wristFigures) bool { return w.clip.clean() }
func isSpiky(w *wristFigures) bool { return !w.clip.clean() }

// recordedRows: what `courtkin analyze` says of the recorded strokes, by label and
// by the recordings' own reference figures.
func recordedRows() []row {
	one := func(w *wristFigures) bool { return len(w.sheets) == 1 }
	return []row{
		allOf("rec found", "single-stroke clips that give exactly one swing", one),
		allOf("rec stroke", "their stroke as labelled (smash: overhead; backhand two-handed where labelled so)",
			func(w *wristFigures) bool { return one(w) && w.sheets[0].Stroke == w.clip.stroke() }),
		allOf("rec hand", "their dominant hand as labelled",
			func(w *wristFigures) bool { return one(w) && w.sheets[0].Hand == w.clip.hand() }),
		allOf("rec contact", "contact within 0.15 s (serve, overhead: 0.20 s) of the hitting wrist's fastest instant",
			func(w *wristFigures) bool { return math.Abs(w.contact) <= contactTolerance(w.clip.stroke()) }),
		allOf("rec order", "events in the order of their definitions, phases one after the other",
			func(w *wristFigures) bool { return one(w) && ordered(w.sheets[0]) == "" }),
		worst("rec wrist", "clean clips: peak wrist speed of our course, low-passed as the reference is (zero-lag, 12 Hz), against the reference, largest difference", "%", 5,
			isClean, func(w *wristFigures) float64 { return 100 * math.Abs(w.like) }),
		worst("rec wrist raw", "clean clips: the same with neither low-passed, largest difference", "%", 5,
			isClean, func(w *wristFigures) float64 { return 100 * math.Abs(w.raw) }),
		worst("rec filter", "clean clips: our zero-lag filter on the recording itself, against the reference, largest difference", "%", 5,
			isClean, func(w *wristFigures) float64 { return 100 * math.Abs(w.own) }),
		worst("rec spike", "clips with capture faults to 20 m/s: largest wrist speed of our course", "m/s", 15,
			isSpiky, func(w *wristFigures) float64 { return w.top }),
		inSeries("rec series forehand", "tmseq_S02_forehand"),
		inSeries("rec series serve", "tmseq_S07_serve"),
	}
}

// inSeries holds the swings of a 30 s series against peaks of the wrist's speed over
// 4 m/s in the recording, filtered at 12 Hz, a second apart at least.
func inSeries(id, name string) row {
	return row{id: id, quantity: name + ": swings within 0.15 s (serves: 0.20 s) of the peaks of wrist speed over 4 m/s, less swings elsewhere and peaks without one; of the peaks",
		unit: "%", want: 100, tol: .1, source: mocapSource, seen: computed, got: func(t *testing.T) float64 {
			f := analysed(t)
			for _, r := range recorded(t) {
				if r.name == name {
					peaks := r.recordedPath(r.wrist()).peaks(4)
					return 100 * paired(t, f[name], peaks, contactTolerance(r.stroke())) / float64(len(peaks))
				}
			}
			t.Error("no such series")
			return math.NaN()
		}}
}

// paired is how many swings and peaks pair off in order, less those that do not.
func paired(t *testing.T, swings []*measure.Sheet, peaks []float64, tol float64) float64 {
	pairs, k := 0, 0
	for _, s := range swings {
		at := when(s, phase.Contact)
		for k < len(peaks) && peaks[k] < at-tol {
			k++
		}
		if k < len(peaks) && math.Abs(peaks[k]-at) <= tol {
			pairs, k = pairs+1, k+1
		} else {
			t.Logf("a swing at %.2f s without a peak", at)
		}
	}
	return float64(pairs - (len(swings) - pairs) - (len(peaks) - pairs))
}

// ordered says what of a sheet's events and phases is out of order; "" when nothing is.
func ordered(s *measure.Sheet) string {
	for _, pair := range [][2]phase.EventKind{
		{phase.TurnStart, phase.TurnComplete}, {phase.TurnStart, phase.Contact}, {phase.TurnComplete, phase.Contact},
		{phase.ForwardStart, phase.Contact}, {phase.DropStart, phase.RacketLow}, {phase.ForwardStart, phase.MaxLag},
		{phase.MaxLag, phase.Contact}, {phase.RacketLow, phase.Contact}, {phase.Contact, phase.FollowEnd},
		{phase.FollowEnd, phase.Recovered}, {phase.BallRelease, phase.Trophy}, {phase.Trophy, phase.Contact},
	} {
		if a, b := when(s, pair[0]), when(s, pair[1]); a > b {
			return fmt.Sprintf("%s at %.3f s after %s at %.3f s", phase.Catalog()[pair[0]-1].Title, a, phase.Catalog()[pair[1]-1].Title, b)
		}
	}
	for i, p := range s.Phases {
		if p.End <= p.Start || i > 0 && p.Start < s.Phases[i-1].End {
			return fmt.Sprintf("phase %d from %.3f to %.3f s", p.Kind, p.Start, p.End)
		}
	}
	return ""
}

// recordedTable lists every single-stroke clip for the page.
func recordedTable(t *testing.T) string {
	var b strings.Builder
	b.WriteString("\n| clip | found | hand | contact − fastest wrist | filtered wrist speed against the reference | unfiltered against unfiltered |\n|---|---|---|---|---|---|\n")
	for _, w := range compared(t) {
		for _, s := range w.sheets {
			hand := map[body.Hand]string{body.RightHanded: "right", body.LeftHanded: "left"}[s.Hand]
			fmt.Fprintf(&b, "| %s | %s | %s | %s ms | %s %% | %s %% |\n", w.clip.name, s.Stroke, hand,
				signed(10*math.Round(100*w.contact)), signed(100*w.like), signed(100*w.raw))
		}
	}
	return b.String()
}

// signed prints a whole number with its sign.
func signed(v float64) string {
	if v = math.Round(v); v == 0 {
		return "0"
	}
	return strings.Replace(fmt.Sprintf("%+.0f", v), "-", "−", 1)
}

const aboutRecorded = `What ` + "`courtkin analyze`" + ` says of every clip, nothing given but the file. Skipped
where the recordings are absent. No clip has a racket, a ball or a labelled contact: the
hitting wrist's fastest instant stands in for it. Wrist speeds are compared twice: our
course low-passed as the recordings' reference is (zero-lag second-order Butterworth twice,
12 Hz, then central differences), and unfiltered against unfiltered.
`
