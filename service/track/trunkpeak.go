package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// The trunk turns fastest before the ball is met, and by how much has been published of strokes
// in which the hitting shoulder comes forward: it tells of impact apart from what the hand does.

// lead is how long after something impact comes, and its spread, seconds.
type lead struct{ mean, sd float64 }

var (
	// trunkLead is from the shoulders' fastest turn: forehands of elite players 0.057 ± 0.004, of
	// good ones 0.075 ± 0.011 (Landlinger et al. 2010); medians of three simulators 0.076, 0.064
	// and 0.042, slow strokes up to 0.12.
	trunkLead = lead{0.066, 0.030}
	// overLead is the same over the head: serves of men 0.058, of women 0.075 (Fleisig et al.
	// 2003). The trunk leans as it turns there and goes on turning behind the ball: two simulators
	// have 0.12 and 0.15.
	overLead = lead{0.066, 0.040}
	// backLead is the same of backhands, of which nothing was found published: the simulators have
	// 0.028 to 0.078, those of two hands and slices the less.
	backLead = lead{0.052, 0.035}
)

const (
	// chestNoise is the error of the shoulders' direction over the time in which their turn
	// speeds up and slows, radians: two shoulders 0.36 m apart, 1 to 2.5 cm each, some frames.
	chestNoise = 0.08
	// leastChest is the least rate, rad/s, at which the shoulders turn for that to tell.
	leastChest = 2.5
	// trunkFrom and trunkTo are where that is looked for about what the hand tells of impact, seconds.
	trunkFrom, trunkTo = -0.16, 0.02
)

// byTrunk returns when the ball was struck as the trunk's turn tells it, and the sd of that, for
// the hands of which one tells of impact at an instant, over the head or not; false where the
// trunk has no fastest instant about that. An image alone shows the turn of level shoulders too
// faintly.
func (m *scene) byTrunk(hands []peak, chosen int, hand float64, over bool) (at, sd float64, ok bool) {
	g := hands[chosen].q.g
	l, r := m.follow(g, body.LeftShoulder, m.rough[groupTrunk]), m.follow(g, body.RightShoulder, m.rough[groupTrunk])
	if l == nil || r == nil || m.method == "image_plane" {
		return 0, 0, false
	}
	across := func(i int) geom.Vec3 { return r.mean[i].Sub(l.mean[i]).Flat() }
	turn := func(i int) float64 { // rad/s, the right shoulder forward
		a, b := across(i-1), across(i+1)
		return math.Atan2(a.Cross(b).Y, a.Dot(b)) / (g.t[i+1] - g.t[i-1])
	}
	forward := false
	fastest := leastChest
	for i := 2; i+2 < len(g.t); i++ {
		if d := g.t[i] - hand; d < trunkFrom || d > trunkTo || !l.covers(g.t[i]) || !r.covers(g.t[i]) {
			continue
		}
		before, v, after := math.Abs(turn(i-1)), math.Abs(turn(i)), math.Abs(turn(i+1))
		if v < fastest || v < before || v <= after {
			continue
		}
		fastest, ok = v, true
		forward = turn(i) > 0 == (hands[chosen].p == body.RightWrist)
		top := 0.5 * (before - after) / (before - 2*v + after) // of the parabola through the three
		at = g.t[i] + top*(g.t[i+1]-g.t[i])
	}
	by := trunkLead
	switch {
	case over:
		by = overLead
	case !forward || bothHold(hands, hand):
		by = backLead
	}
	return at + by.mean, math.Hypot(chestNoise/fastest, by.sd), ok
}

// bothHold reports whether two hands are so near to one another at an instant that both are on the racket.
func bothHold(hands []peak, at float64) bool {
	return len(hands) == 2 && hands[0].q.at(at).Sub(hands[1].q.at(at)).Norm() < handSpan
}
