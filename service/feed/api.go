package feed

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
)

// Action is what the machine is advised to do. The numbers are those of the wire.
type Action uint8

// Actions.
const (
	ActionUnknown Action = iota
	Go                   // feed the next ball
	Hold                 // ask again after RetryAfter
	Stop                 // end the drill
)

// Ball is one feed.
type Ball struct {
	Speed    float64 // m/s, in [0, ∞)
	Lateral  float64 // m, bounce point to the player's right of where he stands
	Depth    float64 // m, bounce point in front of the baseline
	Height   float64 // m over the net
	Topspin  float64 // revolutions a second; negative: backspin
	Interval float64 // s to the ball after it
}

// Request is what the machine tells.
type Request struct {
	Recent     []*measure.Sheet // newest last
	Last       Ball             // the ball fed last; zero before the first
	Least      Ball             // what the machine can do
	Most       Ball
	Player     body.Player
	FeedsSoFar uint32
	Now        []body.Frame    // the newest frames
	Axes       camera.Axes     // of Now's world points
	Cameras    []camera.Camera // Frame.Camera indexes this
	AskedUS    int64           // the instant of asking on the frames' clock; 0: not known
	Locale     string
}

// Advice is the answer.
type Advice struct {
	Action     Action
	Next       *Ball   // set for Go only
	RetryAfter float64 // s; set for Hold
	Reason     string
	Cue        *cue.Cue  // for the player, from his last swing; nil when there is nothing to say
	Cautions   []cue.Cue // never empty: this is advice and no safety interlock
}
