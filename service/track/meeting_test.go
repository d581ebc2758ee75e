package track

import (
	"testing"

	"example.com/courtkin/service/geom"
)

// A ball that is smashed at 1 s and bounces at 1.1 s can have been struck at the
// one and not at the other, whatever one wild sight says.
func TestBallAndRacketMeet(t *testing.T) {
	var c meeting
	for k := range 60 {
		at := 0.8 + float64(k)/120
		ball := geom.Vec3{X: 8 - 8*(at-1), Y: 2.5 - 6*(at-1)}
		if at > 1 {
			ball = geom.Vec3{X: 8 + 25*(at-1), Y: 2.5 - 24*(at-1)}
		}
		racket := geom.Vec3{X: 8 + 5*min(at-1, 0.05), Y: 2.5}
		if k == 25 {
			ball = geom.Vec3{X: 40, Y: 9}
		}
		c.ball = append(c.ball, sight{t: at, p: ball})
		c.racket = append(c.racket, sight{t: at, p: racket})
	}
	got := c.choose([]float64{0.99, 1, 1.01, 1.1, 1.15, 9})
	for i, want := range []float64{0, 0, 0, -apartCost, -apartCost, 0} {
		if got[i] != want {
			t.Errorf("instant %d costs %g, want %g", i, got[i], want)
		}
	}
}
