package phase

// EventKind names an instant of a swing. The numbers are those of the wire.
type EventKind uint8

// Events, as defined in the catalog.
const (
	EventUnknown EventKind = iota
	SplitLanding
	TurnStart
	TurnComplete
	DropStart
	ForwardStart
	MaxLag
	RacketLow
	Contact
	FollowEnd
	Recovered
	BallRelease
	Trophy

	NumEvents
)

// Kind names a stretch of a swing. The numbers are those of the wire.
type Kind uint8

// Phases, in the order in which a swing passes them (a serve: Toss before TakeBack).
const (
	PhaseUnknown Kind = iota
	Ready
	TakeBack
	Drop
	ForwardSwing
	FollowThrough
	Recovery
	Toss

	NumPhases
)

// Event is one located instant.
type Event struct {
	Kind        EventKind
	Time        float64 // seconds from the window's first frame
	SD          float64 // seconds
	Provisional bool
}

// Phase is a stretch between two events.
type Phase struct {
	Kind       Kind
	Start, End float64 // seconds from the window's first frame
}

// Times holds the instant of each event in one course, seconds as Course.T;
// NaN where the event is absent.
type Times [NumEvents]float64
