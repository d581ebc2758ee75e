package swing

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// A chest that stands askew before the turn makes the direction of play doubtful by
// half of the angle; one that faces about where the stroke goes does not.
func TestAnAskewChestMakesTheTargetDoubtful(t *testing.T) {
	for _, deg := range []float64{0, 30, -44, 50, -70, 120} {
		a := deg * math.Pi / 180
		var c track.Course
		for i := range 60 {
			c.T = append(c.T, float64(i)/60)
			// The chest faces a from X toward Z: the right shoulder is at a + 90°.
			across := geom.Vec3{X: -math.Sin(a), Z: math.Cos(a)}.Scale(0.18)
			c.Pos[body.RightShoulder] = append(c.Pos[body.RightShoulder], across)
			c.Pos[body.LeftShoulder] = append(c.Pos[body.LeftShoulder], across.Scale(-1))
			c.Center = append(c.Center, geom.Vec3{X: float64(i) * 0.2})
		}
		c.Break = 50
		c.Has[body.RightShoulder], c.Has[body.LeftShoulder] = true, true
		s := settling{stroke: body.Forehand, waits: true, waitEnd: 0.3}
		want := 0.0
		if math.Abs(deg) > 45 {
			want = math.Abs(a) / 2
		}
		if got := s.doubtOfX(&c); math.Abs(got-want) > 1e-9 {
			t.Errorf("chest at %g°: sd %.3f, want %.3f", deg, got, want)
		}
		if want == 0 {
			want = strikeAside // the stroke stands in for the wait
		}
		if s.waits, s.waitEnd = false, 0.05; math.Abs(s.doubtOfX(&c)-want) > 1e-9 {
			t.Errorf("chest at %g°, no wait: sd %.3f, want %.3f", deg, s.doubtOfX(&c), want)
		}
		if s.stroke = body.Serve; s.doubtOfX(&c) != 0 {
			t.Error("a server waits sideways")
		}
	}
}
