package body

// Point names one tracked point: a body point (a joint centre as pose
// estimators give it), a racket point or the ball. The order is internal;
// layouts map the wire's orders to it.
type Point uint8

// The points. Left and right are the player's own.
const (
	Nose Point = iota
	LeftEar
	RightEar
	LeftShoulder
	RightShoulder
	LeftElbow
	RightElbow
	LeftWrist
	RightWrist
	LeftHip
	RightHip
	LeftKnee
	RightKnee
	LeftAnkle
	RightAnkle
	LeftToe
	RightToe
	LeftHeel
	RightHeel
	LeftHand
	RightHand
	Neck
	Chest
	MidHip
	Head
	HeadTop

	RacketTip    // far end of the frame
	RacketThroat // lower end of the string bed
	RacketButt   // end of the handle
	RacketLeft   // left edge as seen from behind the forehand face, tip up
	RacketRight  // right edge, same view

	Ball

	NumPoints
)

// NumBody counts the body points, which come first.
const NumBody = int(RacketTip)

var pointNames = [NumPoints]string{
	"nose", "left_ear", "right_ear", "left_shoulder", "right_shoulder",
	"left_elbow", "right_elbow", "left_wrist", "right_wrist", "left_hip", "right_hip",
	"left_knee", "right_knee", "left_ankle", "right_ankle", "left_toe", "right_toe",
	"left_heel", "right_heel", "left_hand", "right_hand", "neck", "chest", "mid_hip",
	"head", "head_top",
	"racket_tip", "racket_throat", "racket_butt", "racket_left", "racket_right", "ball",
}

// String returns the point's name in lower_snake.
func (p Point) String() string {
	if p < NumPoints {
		return pointNames[p]
	}
	return "unknown"
}

// IsRacket reports whether p is one of the five racket points.
func (p Point) IsRacket() bool { return p >= RacketTip && p <= RacketRight }

// Twin returns the point's left–right counterpart; points on the midline, the
// racket and the ball are their own. A mirrored racket shows its edges swapped too.
func (p Point) Twin() Point {
	switch {
	case p >= LeftEar && p <= RightHand:
		return (p - LeftEar) ^ 1 + LeftEar
	case p == RacketLeft:
		return RacketRight
	case p == RacketRight:
		return RacketLeft
	}
	return p
}
