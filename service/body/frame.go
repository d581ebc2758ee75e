package body

// Seen2 is an image point in pixels (x right, y down) with the estimator's
// score in [0, 1]. A score of 0 means not seen; the coordinates are then void.
type Seen2 struct{ X, Y, Score float32 }

// Seen3 is a world point in metres with the estimator's score in [0, 1].
// A score of 0 means not seen; the coordinates are then void.
type Seen3 struct{ X, Y, Z, Score float32 }

// Frame is one captured frame in the canonical point order.
type Frame struct {
	Index  uint32
	TimeUS int64 // capture time on the camera's own clock, microseconds
	Camera uint8
	Image  [NumPoints]Seen2
	World  [NumPoints]Seen3
}
