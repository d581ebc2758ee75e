package measure

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/phase"
)

// Grade says how far a figure can be trusted. The numbers are those of the wire.
type Grade uint8

// Grades.
const (
	GradeUnknown  Grade = iota
	Good                // within the accuracy that the catalog promises
	Rough               // usable, wider than promised
	NotMeasurable       // no value; the reason says why
)

// Figure is one measure of one swing. With grade NotMeasurable the numbers are
// NaN and Reason is set.
type Figure struct {
	Name      string
	Value     float64
	SD        float64
	Low, High float64 // 95 % interval
	Unit      string  // UCUM
	Grade     Grade
	Reason    string // plain words, for a rough or absent value
}

// Known reports whether the figure has a value.
func (f Figure) Known() bool { return f.Grade == Good || f.Grade == Rough }

// Capture says how the figures were had.
type Capture struct {
	View         camera.Viewpoint
	FrameRate    float64 // Hz, measured from the times
	SlowMotion   float64 // factor as used; 1 is true time
	SlowMotionSD float64 // from the clock check; 0: not checked
	Method       string  // "world", "two_view", "one_view", "image_plane"
	ScaleSD      float64 // relative
}

// Warning is a stable code with a sentence.
type Warning struct{ Code, Text string }

// Series is one curve of a trace.
type Series struct {
	Name   string
	Unit   string
	Values []float32
	SDs    []float32
}

// Trace holds curves on one grid of seconds from contact.
type Trace struct {
	Times  []float32
	Series []Series
}

// Sheet is all that was measured of one swing: what judgement reads.
type Sheet struct {
	ID               string
	Stroke           body.Stroke
	StrokeConfidence float64 // 0 to 1
	Hand             body.Hand
	StartUS          int64 // frames' clock at the window's first frame: event times count from here
	Events           []phase.Event
	Phases           []phase.Phase
	Figures          []Figure
	Warnings         []Warning
	Trace            *Trace
	FirstFrame       uint32
	LastFrame        uint32
	Capture          Capture
}

// Figure returns the named figure; ok is false when the sheet does not hold it.
func (s *Sheet) Figure(name string) (Figure, bool) {
	for _, f := range s.Figures {
		if f.Name == name {
			return f, true
		}
	}
	return Figure{}, false
}

// Event returns the event of the given kind; ok is false when it is absent.
func (s *Sheet) Event(k phase.EventKind) (phase.Event, bool) {
	for _, e := range s.Events {
		if e.Kind == k {
			return e, true
		}
	}
	return phase.Event{}, false
}
