package track

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// The standing level is that of the ankles that were seen: a course goes on over what was
// not, and may sink far under the ground.
func TestStandingAnkleLeavesOutDrift(t *testing.T) {
	c := &Course{}
	for _, p := range []body.Point{body.LeftAnkle, body.RightAnkle, body.LeftHip, body.RightHip} {
		c.Has[p] = true
	}
	for i := range 100 {
		c.T = append(c.T, float64(i)/50)
		drift := math.Max(0, float64(60-i)) * 0.1 // the left ankle shows in the last two fifths only
		for p, y := range map[body.Point]float64{body.LeftAnkle: 3.07 - drift, body.RightAnkle: 3.08, body.LeftHip: 3.9, body.RightHip: 3.9} {
			c.Pos[p] = append(c.Pos[p], geom.Vec3{Y: y})
		}
	}
	if got := c.StandingAnkle(1.7); math.Abs(got-3.07) > 0.011 {
		t.Errorf("standing ankle at %.2f m, want 3.07", got)
	}
	c.Has[body.LeftAnkle], c.Has[body.RightAnkle] = false, false
	if got := c.StandingAnkle(1.7); !math.IsNaN(got) {
		t.Errorf("standing ankle at %.2f m without ankles", got)
	}
}
