package phase

import (
	"math"
	"slices"
	"testing"

	"example.com/courtkin/service/body"
)

func at(pairs map[EventKind]float64) Times {
	t := None()
	for k, v := range pairs {
		t[k] = v
	}
	return t
}

func TestPhases(t *testing.T) {
	ground := map[EventKind]float64{TurnStart: 1, TurnComplete: 1.4, DropStart: 1.5, ForwardStart: 1.7, Contact: 2, FollowEnd: 2.4, Recovered: 3}
	without := func(m map[EventKind]float64, kinds ...EventKind) map[EventKind]float64 {
		c := map[EventKind]float64{}
		for k, v := range m {
			if !slices.Contains(kinds, k) {
				c[k] = v
			}
		}
		return c
	}
	serve := map[EventKind]float64{BallRelease: 1, TurnStart: 0.8, TurnComplete: 1.3, Trophy: 1.5, DropStart: 1.6, ForwardStart: 1.8, Contact: 2, FollowEnd: 2.4}
	late := map[EventKind]float64{TurnStart: 1, TurnComplete: 1.8, ForwardStart: 1.7, Contact: 2}
	cases := []struct {
		name   string
		times  map[EventKind]float64
		stroke body.Stroke
		want   []Phase
	}{
		{"ground stroke", ground, body.Forehand, []Phase{{Ready, 0, 1}, {TakeBack, 1, 1.5}, {Drop, 1.5, 1.7}, {ForwardSwing, 1.7, 2}, {FollowThrough, 2, 2.4}, {Recovery, 2.4, 3}}},
		{"no drop: the completed turn stands in", without(ground, DropStart), body.SliceBackhand, []Phase{{Ready, 0, 1}, {TakeBack, 1, 1.4}, {Drop, 1.4, 1.7}, {ForwardSwing, 1.7, 2}, {FollowThrough, 2, 2.4}, {Recovery, 2.4, 3}}},
		{"forward swing before the turn is complete", late, body.ForehandVolley, []Phase{{Ready, 0, 1}, {TakeBack, 1, 1.7}, {ForwardSwing, 1.7, 2}}},
		{"not recovered", without(ground, Recovered), body.Forehand, []Phase{{Ready, 0, 1}, {TakeBack, 1, 1.5}, {Drop, 1.5, 1.7}, {ForwardSwing, 1.7, 2}, {FollowThrough, 2, 2.4}}},
		{"serve", serve, body.Serve, []Phase{{Ready, 0, 1}, {Toss, 1, 1.5}, {TakeBack, 1.5, 1.6}, {Drop, 1.6, 1.8}, {ForwardSwing, 1.8, 2}, {FollowThrough, 2, 2.4}}},
		{"serve without a drop: the stand-in does not reach into the toss", without(serve, DropStart), body.Serve, []Phase{{Ready, 0, 1}, {Toss, 1, 1.5}, {Drop, 1.5, 1.8}, {ForwardSwing, 1.8, 2}, {FollowThrough, 2, 2.4}}},
		{"overhead", without(serve, BallRelease), body.Overhead, []Phase{{Ready, 0, 0.8}, {TakeBack, 0.8, 1.6}, {Drop, 1.6, 1.8}, {ForwardSwing, 1.8, 2}, {FollowThrough, 2, 2.4}}},
		{"nothing", nil, body.Forehand, []Phase{}},
	}
	for _, c := range cases {
		if got := Phases(at(c.times), c.stroke, 0, 4); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

// Phases of the made swing are a partition.
func TestPhasesPartition(t *testing.T) {
	phases := Phases(Locate(madeForehand().course(), Context{Stroke: body.Forehand}), body.Forehand, 0, madeEnd)
	if len(phases) != 6 {
		t.Fatalf("%d phases, want 6", len(phases))
	}
	for i := 1; i < len(phases); i++ {
		near(t, "start of the next phase", phases[i].Start, phases[i-1].End, 1e-12)
	}
}

func TestCatalogNamesEveryEventOnce(t *testing.T) {
	rows := Catalog()
	for i, d := range rows {
		if d.Kind != EventKind(i+1) || d.Title == "" || d.Definition == "" || d.Source == "" || len(d.Strokes) == 0 {
			t.Errorf("row %d: %+v", i, d)
		}
	}
	if len(rows) != int(NumEvents)-1 {
		t.Errorf("%d rows, want %d", len(rows), NumEvents-1)
	}
}

func TestTimesOf(t *testing.T) {
	got := TimesOf([]Event{{Kind: Contact, Time: 2}, {Kind: NumEvents + 3, Time: 9}})
	near(t, "contact", got[Contact], 2, 0)
	if got.Has(Contact, TurnStart) || !got.Has(Contact) {
		t.Error("Has is wrong about contact alone")
	}
	near(t, "absent", got[TurnStart], math.NaN(), 0)
}
