package body

// Hand is the side that holds the racket.
type Hand uint8

// Hands. The numbers are those of the wire.
const (
	HandUnknown Hand = iota
	RightHanded
	LeftHanded
)

// Level is a coach's grade of a player.
type Level uint8

// Levels. The numbers are those of the wire.
const (
	LevelUnknown Level = iota
	Beginner
	Intermediate
	Advanced
	Elite
)

// Stroke is one of the eight strokes that the service tells apart.
type Stroke uint8

// Strokes. The numbers are those of the wire.
const (
	StrokeUnknown Stroke = iota
	Forehand
	TwoHandedBackhand
	OneHandedBackhand
	SliceBackhand
	Serve
	ForehandVolley
	BackhandVolley
	Overhead

	NumStrokes
)

var strokeNames = [NumStrokes]string{
	"unknown stroke", "forehand", "two-handed backhand", "one-handed backhand",
	"slice backhand", "serve", "forehand volley", "backhand volley", "overhead",
}

// String returns the stroke as a coach writes it.
func (s Stroke) String() string {
	if s < NumStrokes {
		return strokeNames[s]
	}
	return strokeNames[0]
}

// Backhand reports whether the ball is hit on the support side: h = −Z for a right-hander.
func (s Stroke) Backhand() bool {
	return s == TwoHandedBackhand || s == OneHandedBackhand || s == SliceBackhand || s == BackhandVolley
}

// OverheadMotion reports whether the stroke follows the serve's rules.
func (s Stroke) OverheadMotion() bool { return s == Serve || s == Overhead }

// Volley reports whether the ball is taken before its bounce with a short swing.
func (s Stroke) Volley() bool { return s == ForehandVolley || s == BackhandVolley }

// Side returns the sign of h along Z for a player mirrored to right-handed:
// +1 for forehands, serves and overheads, −1 for backhands.
func (s Stroke) Side() float64 {
	if s.Backhand() {
		return -1
	}
	return 1
}

// Player is what the client says of the person. Zero values mean not known.
type Player struct {
	Hand    Hand
	Stature float64 // standing height, metres, in [0.8, 2.5]; 0 unknown
	Level   Level
	Junior  bool // under 18
}
