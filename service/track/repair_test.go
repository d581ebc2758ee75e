package track

import (
	"testing"

	"example.com/courtkin/service/body"
)

// walker is a body that walks toward X, seen in 3-D, with the sides of the frames in
// crossed swapped.
func walker(n int, crossed map[int]bool) []body.Frame {
	frames := make([]body.Frame, n)
	for i := range frames {
		f := &frames[i]
		f.TimeUS = int64(i) * 16_667
		for _, l := range pairs {
			for side := range body.Point(2) {
				z := -0.18 + 0.36*float32(side)
				f.World[l+side] = body.Seen3{X: 0.02 * float32(i), Y: 0.1 * float32(l), Z: z, Score: 1}
			}
		}
		if crossed[i] {
			swapSides(f)
		}
	}
	return frames
}

func TestSidesAreWhatMostFramesSay(t *testing.T) {
	for name, crossed := range map[string]map[int]bool{
		"none": {}, "one": {7: true}, "two in a row": {7: true, 8: true}, "the first": {0: true}, "the first and another": {0: true, 20: true},
	} {
		frames := walker(40, crossed)
		unswap(frames)
		for i := range frames {
			if frames[i].World[body.RightWrist].Z < 0 {
				t.Errorf("%s: frame %d is left swapped", name, i)
			}
		}
	}
}
