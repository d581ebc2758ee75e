package synth

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/phase"
)

// TrueSwing is what a perfect observer would report of one stroke.
type TrueSwing struct {
	Stroke   body.Stroke
	Hand     body.Hand
	Contact  float64 // real seconds from the clip's time zero
	Events   [phase.NumEvents]float64
	Measures map[string]float64 // by the catalog's names and units; absent where not defined

	// Sway is how far a hair's change moves each answer: thresholds ± 10 %, the motion
	// shaken by 1 mm. +Inf where the answer comes or goes. Answers that sway are
	// not scored.
	EventSway   [phase.NumEvents]float64
	MeasureSway map[string]float64
}

// hairs are the small changes that truth is tried against.
var hairs = []hair{{0.9, 0, 1}, {1.1, 0, 1}, {1, 0.001, 2}, {1, 0.001, 3}, {1, 0.001, 4}}

// Truth measures stroke i of the motion by the definitions. When the court is not
// known, X is the direction that the definitions put in its place.
func (m *Motion) Truth(i int, courtKnown bool) TrueSwing {
	k := &m.Struck[i]
	t0 := k.Contact - 3.2
	if k.Stroke == body.Serve {
		t0 = k.Release - 1.8
	}
	f := sample(m, k, t0, k.Contact+2.6)
	e, v := f.answers(courtKnown)
	s := TrueSwing{Stroke: k.Stroke, Hand: body.RightHanded, Contact: k.Contact, Events: e, Measures: v, MeasureSway: map[string]float64{}}
	if m.LeftHanded {
		s.Hand = body.LeftHanded
	}
	for _, h := range hairs {
		e2, v2 := f.shaken(h).answers(courtKnown)
		s.sway(e2, v2)
	}
	if !k.Ball {
		s.loosen()
	}
	return s
}

func (f *fine) answers(courtKnown bool) (instants, map[string]float64) {
	f.derive(geom.Vec3{X: 1})
	if !courtKnown {
		f.derive(f.assumedX())
	}
	e := f.events()
	return e, f.measures(e)
}

// assumedX is the direction that stands for the net's when the court is not known:
// where the chest faces while waiting; for serves and overheads the head centre's path.
// The wait is taken as the last half second before the turn starts.
func (f *fine) assumedX() geom.Vec3 {
	if f.k.Stroke.OverheadMotion() {
		return f.towards()
	}
	start := f.t[f.turnStart(f.turnWindow())]
	var sum geom.Vec3
	for i := f.at(start - 0.5); i <= f.at(start); i++ {
		line := f.pos[body.RightShoulder][i].Sub(f.pos[body.LeftShoulder][i])
		sum = sum.Add(upward.Cross(line).Flat().Unit())
	}
	return sum
}

func (s *TrueSwing) sway(e instants, v map[string]float64) {
	gone := func(a, b float64) float64 {
		if math.IsNaN(a) && math.IsNaN(b) {
			return 0
		}
		if math.IsNaN(a) != math.IsNaN(b) {
			return math.Inf(1)
		}
		return math.Abs(a - b)
	}
	for i := range e {
		s.EventSway[i] = max(s.EventSway[i], gone(s.Events[i], e[i]))
	}
	names := map[string]bool{}
	for n := range v {
		names[n] = true
	}
	for n := range s.Measures {
		names[n] = true
	}
	for n := range names {
		a, okA := s.Measures[n]
		b, okB := v[n]
		switch {
		case okA != okB:
			s.MeasureSway[n] = math.Inf(1)
		default:
			s.MeasureSway[n] = max(s.MeasureSway[n], math.Abs(a-b))
		}
	}
}

// loosen marks every answer of a shadow swing as unscored: without a ball nothing says
// to the millisecond when contact would have been.
func (s *TrueSwing) loosen() {
	for i := range s.EventSway {
		s.EventSway[i] = math.Inf(1)
	}
	for n := range s.Measures {
		s.MeasureSway[n] = math.Inf(1)
	}
}
