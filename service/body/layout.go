package body

// Unused stands in a layout for a point that the core has no use for, such as an eye.
const Unused = NumPoints

// Layout is the order in which a pose estimator delivers body points: entry i
// is the point that its i-th place holds, or Unused.
type Layout []Point

// COCO17 is the COCO person keypoint order.
var COCO17 = Layout{
	Nose, Unused, Unused, LeftEar, RightEar,
	LeftShoulder, RightShoulder, LeftElbow, RightElbow, LeftWrist, RightWrist,
	LeftHip, RightHip, LeftKnee, RightKnee, LeftAnkle, RightAnkle,
}

// BlazePose33 is the 33-landmark topology. Its index-finger knuckles stand for
// the hands; its foot-index points are the toes.
var BlazePose33 = Layout{
	Nose, Unused, Unused, Unused, Unused, Unused, Unused, LeftEar, RightEar, Unused, Unused,
	LeftShoulder, RightShoulder, LeftElbow, RightElbow, LeftWrist, RightWrist,
	Unused, Unused, LeftHand, RightHand, Unused, Unused,
	LeftHip, RightHip, LeftKnee, RightKnee, LeftAnkle, RightAnkle,
	LeftHeel, RightHeel, LeftToe, RightToe,
}

// Body25 is the 25-keypoint body topology. Its big toes are the toes.
var Body25 = Layout{
	Nose, Neck, RightShoulder, RightElbow, RightWrist, LeftShoulder, LeftElbow, LeftWrist,
	MidHip, RightHip, RightKnee, RightAnkle, LeftHip, LeftKnee, LeftAnkle,
	Unused, Unused, RightEar, LeftEar,
	LeftToe, Unused, LeftHeel, RightToe, Unused, RightHeel,
}

// RacketOrder is the order of racket points on the wire; a shorter list stops early.
var RacketOrder = Layout{RacketTip, RacketThroat, RacketButt, RacketLeft, RacketRight}

// PointNamed returns the body point of a lower_snake name. Names of points that
// estimators give but the core has no use for (the eyes) return Unused and
// true; an unknown name returns false.
func PointNamed(name string) (Point, bool) {
	for p := range NumPoints {
		if p < RacketTip && pointNames[p] == name {
			return p, true
		}
	}
	return Unused, name == "left_eye" || name == "right_eye"
}

// NamedLayout returns the layout of a list of point names, and the names that
// are not known, whose places are Unused.
func NamedLayout(names []string) (layout Layout, unknown []string) {
	layout = make(Layout, len(names))
	for i, name := range names {
		p, known := PointNamed(name)
		layout[i] = p
		if !known {
			unknown = append(unknown, name)
		}
	}
	return layout, unknown
}
