package swing

import (
	"math"

	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// One view shows the racket's tilt toward the camera by how short it looks, and not to
// which side. A racket that swings through the line of sight may have turned back there
// as well: its speed then dips where it truly went on, and the ensemble, whose members
// share the choice, dips as one. Where the speed rises again after FOLLOW_END, every
// other member therefore ends at the next fall: of made swings in one view (P and I,
// 400 strokes) half of the dips after which the tip came back to a quarter of its speed
// or more were no ends. A course that ends before the speed has fallen tells no end: the
// members that have one are a minority's dips, and none is told.

// endsUnsure takes in what becomes of a member's end; mean is the mean course's.
func (s *settling) endsUnsure(t phase.Times, mean phase.Times, k int) phase.Times {
	if !oneView(s.post.Method()) {
		return t
	}
	if math.IsNaN(mean[phase.FollowEnd]) {
		t[phase.FollowEnd], t[phase.Recovered] = math.NaN(), math.NaN()
		return t
	}
	if next, dips := s.reader.EndAgain(); dips && k%2 == 1 {
		t[phase.FollowEnd] = next
		t[phase.Recovered] = math.Max(t[phase.Recovered], next)
	}
	return t
}

// oneView tells the methods that have one image.
func oneView(method string) bool {
	return method == measure.MethodOneView || method == measure.MethodImage
}
