package swing

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// strikeAside is the sd of the angle between where a player who waits faces and where the
// racket head goes just before impact, radians: 15°. Players drive across court and
// down the line by 10–20°; made swings give 8° (volleys) to 21° (two-handed backhands).
const strikeAside = 15 * math.Pi / 180

// turnAside turns a member of the ensemble by its share of that angle, where the strike of
// a stroke that starts from a wait stands in for a wait that was not seen. Serves and
// overheads have the strike's direction by definition.
func (s *settling) turnAside(c *track.Course, k int) {
	if !s.assumed || s.waits || s.stroke.OverheadMotion() {
		return
	}
	sin, cos := math.Sincos(strikeAside * rand.New(rand.NewPCG(0x6173696465, uint64(k))).NormFloat64())
	c.TurnTo(geom.Vec3{X: cos, Z: sin})
}
