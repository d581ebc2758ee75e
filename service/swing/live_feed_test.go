package swing_test

import (
	"math"
	"reflect"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// fedPractice plays a practice, with a notice before each stroke or without.
func fedPractice(t *testing.T, clip synth.Clip, fed bool) *watch {
	t.Helper()
	m, err := swing.New(clip.Setup)
	if err != nil {
		t.Fatal(err)
	}
	m.SettleWith(swing.Unsettled)
	w := &watch{}
	next := 0
	for i := range clip.Frames {
		w.now = clip.Frames[i].TimeUS
		if next < len(clip.Truth) && fed && clip.Real(float64(w.now)) > clip.Truth[next].Contact-1.6 {
			m.Feed(w.now)
			next++
		}
		if err := m.Push(&clip.Frames[i], w); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(w)
	return w
}

// Notices have the turn called sooner and leave what is settled as it is.
func TestNoticesChangeProvisionalEventsAlone(t *testing.T) {
	var sooner []float64
	strays := [2]int{}
	for seed := range uint64(3) {
		clip := synth.Shoot(synth.NewPractice(synth.Practice{
			Spec: synth.Spec{Seed: 40 + seed}, Strokes: []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.Forehand},
		}), synth.World, synth.View{}, seed)
		heard := [2]*watch{fedPractice(t, clip, false), fedPractice(t, clip, true)}
		if len(heard[0].swings) < 3 || !reflect.DeepEqual(settledOf(heard[0]), settledOf(heard[1])) {
			t.Fatalf("seed %d: settled %d swings, with notices %d, or others", seed, len(heard[0].swings), len(heard[1].swings))
		}
		at := [2][]float64{}
		for k, w := range heard {
			for _, tr := range clip.Truth {
				called := math.NaN()
				for _, e := range w.events {
					if s := clip.Real(float64(e.at)); e.Kind == phase.TurnStart && !e.Withdrawn && s > tr.Contact-1.6 && s < tr.Contact && math.IsNaN(called) {
						called = s
					}
				}
				at[k] = append(at[k], called)
			}
			for _, e := range w.events {
				near := false
				for _, tr := range clip.Truth {
					near = near || math.Abs(clip.Real(float64(e.TimeUS))-tr.Contact) < 2
				}
				if e.Kind == phase.TurnStart && !e.Withdrawn && !near {
					strays[k]++
				}
			}
		}
		for i := range at[0] {
			if d := at[0][i] - at[1][i]; !math.IsNaN(d) {
				sooner = append(sooner, d)
			}
		}
	}
	sum, later := 0.0, 0
	for _, d := range sooner {
		sum += d
		if d < -0.02 {
			later++
		}
	}
	if later > 1 {
		t.Errorf("%d of %d turns were called later with a notice", later, len(sooner))
	}
	if len(sooner) < 6 || sum/float64(len(sooner)) < 0.01 {
		t.Errorf("%d turns called %.3f s sooner in the mean", len(sooner), sum/float64(len(sooner)))
	}
	if strays[1] > strays[0] {
		t.Errorf("%d turns called between feeds, %d without notices", strays[1], strays[0])
	}
}

func settledOf(w *watch) []measure.Sheet {
	var out []measure.Sheet
	for _, s := range w.swings {
		out = append(out, *s)
	}
	return out
}
