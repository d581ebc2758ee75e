package swing

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// Setup says who plays, with what, and how the frames were had.
type Setup struct {
	Player       body.Player
	RacketLength float64 // metres, butt to tip; 0: 0.685 (27 in)
	Axes         camera.Axes
	Cameras      []camera.Camera // Frame.Camera indexes this; empty means one camera of unknown size; findings are on the clock of the first
	Expected     body.Stroke     // StrokeUnknown: each swing is classified
	Trace        bool            // keep the curves
	Clock        Clock           // as the last Progress of the stream that this one resumes told it

	courts []track.Court // what the cameras' marks say, once a window was settled
}

// Clock is how a stream's clock was settled, where nobody stated it: what a stream
// that resumes another has to know besides its frames.
type Clock struct {
	Factor float64 // clip seconds per real second; 0: not settled yet
	SD     float64 // of Factor; 0: not checked
	Stated bool    // Factor is what the client's capture rate says
	Doubt  bool    // nothing that fell settled it
}

// Reading is what is true right now, for a live display. Figures that cannot
// be had are NaN.
type Reading struct {
	TimeUS       int64
	Phase        phase.Kind
	RacketSpeed  float64 // m/s at the tip
	ShoulderTurn float64 // degrees
	Lag          float64 // degrees
	Grade        measure.Grade
}

// LiveEvent is a provisional event, on the frames' clock.
type LiveEvent struct {
	Kind      phase.EventKind
	TimeUS    int64
	SDUS      int64
	Withdrawn bool // an event of this kind that was announced no longer holds

	refused bool // … for the burst was no swing
	byBall  bool // the ball told it
}

// Progress tells how far a camera's frames are done with: frames before KeepFrom
// can no longer change any finding.
type Progress struct {
	Camera   uint8
	Received uint32 // frames taken
	KeepFrom uint32 // frame index
	Clock    Clock  // once it is settled
}

// Sink receives findings as they come, in order. Times are on the clock of camera 0.
type Sink interface {
	Event(LiveEvent)
	Reading(Reading)
	Swing(*measure.Sheet)
	Warning(measure.Warning)
	Progress(Progress)
}

// Machine finds and measures swings in a stream of frames.
//
//	m, err := swing.New(setup)
//	for each frame { err = m.Push(&frame, sink) }
//	m.Finish(sink)
type Machine struct{ machine }

// New returns a machine for one player; an error (*SetupError) names the field
// of the setup that is unfit.
func New(setup Setup) (*Machine, error) {
	if err := setup.check(); err != nil {
		return nil, err
	}
	m := &Machine{machine{slow: 1, live: &live{}}}
	m.setup, m.ahead = onOneClock(setup)
	if len(setup.Cameras) > 0 && setup.Cameras[0].SlowMotion > 0 {
		m.slow = setup.Cameras[0].SlowMotion
	}
	m.begin()
	m.settle = settle
	switch {
	case !setup.unsettledClock():
		m.thinStated()
	case setup.Clock.Factor > 0:
		m.resumeClock(setup.Clock)
	default:
		m.lanes = newLanes(m)
	}
	return m, nil
}
