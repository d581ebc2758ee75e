package camera

import "example.com/courtkin/service/geom"

// Measures of the court in metres (ITF Rules of Tennis, Rule 1 and Appendix on
// the plan of the court). Lengths run to the outer edges of the lines; the
// centre service line and the centre mark are met in their middle. A mark is
// therefore the corner that lies outermost, as seen from the middle of the court.
const (
	courtLength    = 23.77
	singlesWidth   = 8.23
	doublesWidth   = 10.97
	serviceToNet   = 6.40
	netAtCenter    = 0.914
	netAtPosts     = 1.07
	postToSideline = 0.914 // centre of the post outside the sideline
)

// NumMarks counts the marks, 1 to NumMarks.
const NumMarks = 22

// Net tells where the net is held up: at the doubles posts, or at singles
// sticks (or singles posts), which stand 0.914 m outside the singles sideline.
type Net uint8

// Nets.
const (
	NetOnPosts Net = iota
	NetOnSticks
)

// point returns the mark in court axes, metres; false for a number that names none.
func (m Mark) point(net Net) (geom.Vec3, bool) {
	if m < 1 || m > NumMarks {
		return geom.Vec3{}, false
	}
	p := markPoints[m]
	if net == NetOnSticks && (p.Z == postZ || p.Z == -postZ) {
		p.Z += (singlesWidth - doublesWidth) / 2 * sign(p.Z)
	}
	return p, true
}

// Point returns the mark's place in court axes, metres, with the net on the
// doubles posts; false for a number that names no mark.
func (m Mark) Point() (geom.Vec3, bool) { return m.point(NetOnPosts) }

const (
	netX     = courtLength / 2
	singlesZ = singlesWidth / 2
	doublesZ = doublesWidth / 2
	postZ    = doublesZ + postToSideline
)

// markPoints is indexed by the wire's numbers.
var markPoints = [NumMarks + 1]geom.Vec3{
	1:  {X: 0, Z: -doublesZ},
	2:  {X: 0, Z: -singlesZ},
	3:  {X: 0, Z: 0},
	4:  {X: 0, Z: singlesZ},
	5:  {X: 0, Z: doublesZ},
	6:  {X: netX - serviceToNet, Z: -singlesZ},
	7:  {X: netX - serviceToNet, Z: 0},
	8:  {X: netX - serviceToNet, Z: singlesZ},
	9:  {X: netX, Z: -postZ},
	10: {X: netX, Y: netAtPosts, Z: -postZ},
	11: {X: netX, Z: 0},
	12: {X: netX, Y: netAtCenter, Z: 0},
	13: {X: netX, Z: postZ},
	14: {X: netX, Y: netAtPosts, Z: postZ},
	15: {X: netX + serviceToNet, Z: -singlesZ},
	16: {X: netX + serviceToNet, Z: 0},
	17: {X: netX + serviceToNet, Z: singlesZ},
	18: {X: courtLength, Z: -doublesZ},
	19: {X: courtLength, Z: -singlesZ},
	20: {X: courtLength, Z: 0},
	21: {X: courtLength, Z: singlesZ},
	22: {X: courtLength, Z: doublesZ},
}

func sign(x float64) float64 {
	if x < 0 {
		return -1
	}
	return 1
}
