package swing

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// Where the strike stands in for the wait, the members of the ensemble look ± 15° about
// it; where the direction of play is known, or the strike's by definition, they do not.
func TestTurnAside(t *testing.T) {
	spread := func(s settling) float64 {
		square := 0.
		for k := range 2000 {
			c := &track.Course{}
			c.Has[body.Nose] = true
			c.Pos[body.Nose] = []geom.Vec3{{X: 1}}
			s.turnAside(c, k)
			v := c.Pos[body.Nose][0]
			a := math.Atan2(v.Z, v.X)
			square += a * a / 2000
		}
		return math.Sqrt(square) * 180 / math.Pi
	}
	for _, tt := range []struct {
		name string
		s    settling
		want float64
	}{
		{"no wait", settling{assumed: true, stroke: body.Forehand}, 15},
		{"a wait", settling{assumed: true, waits: true, stroke: body.Forehand}, 0},
		{"the court", settling{stroke: body.Forehand}, 0},
		{"a serve", settling{assumed: true, stroke: body.Serve}, 0},
	} {
		if got := spread(tt.s); math.Abs(got-tt.want) > 0.05*tt.want {
			t.Errorf("%s: ± %.1f°, want ± %.0f°", tt.name, got, tt.want)
		}
	}
}
