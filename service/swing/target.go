package swing

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// A player who waits for a ball faces the net within some 20 degrees and hits within 25
// of it (common practice, no source). A chest that stands further than askew from the
// way of the stroke was not waiting, but still on its way back from the stroke before or
// turned already when the clip began: then one of the two directions is not that of play.
const askew = 45 * math.Pi / 180

// strikeAside is the sd of the angle between where a player who waits faces and where the
// racket head goes just before impact, radians: 15°. Players drive across court and
// down the line by 10–20°; made swings give 8° (volleys) to 21° (two-handed backhands).
const strikeAside = 15 * math.Pi / 180

// doubtOfX returns the sd of an assumed direction of play, radians: half of how far
// the chest before the turn stands from the way of the stroke where that is too far for
// both to be right, else strikeAside where the stroke stands in for a wait that was not
// seen, else 0. Serves and overheads are not hit from a wait.
func (s *settling) doubtOfX(c *track.Course) float64 {
	if s.stroke.OverheadMotion() {
		return 0
	}
	least := 0.0
	if !s.waits {
		least = strikeAside
	}
	if !c.Has[body.LeftShoulder] || !c.Has[body.RightShoulder] {
		return least
	}
	chest, way := chestFacing(c, max(s.waitEnd, c.T[0]+leastWait)), s.strikeDirection(c)
	if chest == (geom.Vec3{}) {
		return least
	}
	apart := math.Abs(math.Atan2(chest.Cross(way).Y, chest.Dot(way)))
	if !(apart > askew) {
		return least
	}
	return apart / 2
}

// unsaid is what the draws of a course do not say, by draw: the same for every swing.
type unsaid struct {
	swivel float64 // radians, turn of an assumed X about the vertical
	fist   track.Fist
}

// unsaid returns it for draw k.
func (s *settling) unsaid(k int) *unsaid {
	u := &unsaid{fist: track.DrawFist(k)}
	if s.swivel != 0 {
		u.swivel = s.swivel * rand.New(rand.NewPCG(0x7377697665, uint64(k))).NormFloat64()
	}
	return u
}
