package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// How far impact follows the hand's fastest instant differs from player to player more than
// where it happens: well ahead of the hitting shoulder in ground strokes and volleys. Three
// simulators that share nothing (made strokes, one by lognormal pulses, one with driven rackets)
// were asked for what they agree on. Over the head they agree on the elbow's fastest extension, 20 to
// 30 ms before impact, but recorded servers seen again in one image move that by more than the hand's top.
const (
	// metAhead is how far the hitting wrist is ahead of its shoulder at impact, in the
	// direction of play, and metAheadSD the spread, over the trunk's length from mid-hip
	// to mid-shoulder: the three have 0.44, 0.76 and 0.49 of ground strokes and volleys of
	// one hand, one-handed backhands as forehands, though the hand's lead over the hips differs twofold.
	metAhead, metAheadSD = 0.53, 0.20
	// metWithin is how near to the instant the hand goes forward fastest that is looked
	// for, seconds.
	metWithin = 0.16
	// leastForward is the least speed, trunks a second, at which the hand goes ahead of the
	// shoulder there: below it the place tells nothing of the time.
	leastForward = 2.0
)

// shoulderOf is the shoulder on a wrist's side.
var shoulderOf = map[body.Point]body.Point{
	body.LeftWrist: body.LeftShoulder, body.RightWrist: body.RightShoulder,
}

// follow returns the smooth path of a body point on the wrist's grid; nil where it was not seen.
func (m *scene) follow(g *grid, p body.Point, r rough) *path {
	s := within(m.places(p), g.t[0], g.t[len(g.t)-1])
	if len(s) < 10 {
		return nil
	}
	q, ok := smoothPoint(g, s, r, 3, nil)
	if !ok {
		return nil
	}
	return q
}

// trunk returns the mean length from mid-hip to mid-shoulder between two instants, metres; NaN
// where it was not seen.
func (m *scene) trunk(from, to float64) float64 {
	mean := func(a, b body.Point) (p geom.Vec3, n int) {
		for _, x := range [2]body.Point{a, b} {
			for _, s := range within(m.places(x), from, to) {
				p, n = p.Add(s.p), n+1
			}
		}
		return p.Scale(1 / float64(n)), n
	}
	top, n := mean(body.LeftShoulder, body.RightShoulder)
	bottom, k := mean(body.LeftHip, body.RightHip)
	if n == 0 || k == 0 {
		return math.NaN()
	}
	return top.Sub(bottom).Norm()
}

// byReach returns when the hand of a wrist, which goes forward fastest at an instant, comes
// metAhead ahead of its shoulder, and the sd of impact by that; false where that does not tell.
func (m *scene) byReach(wrist *path, p body.Point, ahead aim, fastest float64) (at, sd float64, ok bool) {
	g := wrist.g
	s := m.follow(g, shoulderOf[p], m.rough[groupTrunk])
	unit := m.trunk(g.t[0], g.t[len(g.t)-1])
	if s == nil || !(unit > 0) {
		return 0, 0, false
	}
	reach := func(i int) float64 { return wrist.mean[i].Sub(s.mean[i]).Dot(ahead.u)/unit - metAhead }
	near := metWithin
	for i := 1; i < len(g.t); i++ {
		a, b := reach(i-1), reach(i)
		t := g.t[i-1] + (g.t[i]-g.t[i-1])*a/(a-b)
		if a >= 0 || b < 0 || math.Abs(t-fastest) >= near {
			continue
		}
		if rate := (b - a) / (g.t[i] - g.t[i-1]); rate >= leastForward {
			out := wrist.mean[i].Sub(s.mean[i]).Flat().Cross(ahead.u).Norm() / unit
			at, sd, ok = t, math.Hypot(metAheadSD, ahead.sd*out)/rate, true
			near = math.Abs(t - fastest)
		}
	}
	return at, sd, ok
}

// joined returns the mean of two estimates that err apart from one another, and its sd.
func joined(a, sdA, b, sdB float64) (at, sd float64) {
	wa, wb := 1/(sdA*sdA), 1/(sdB*sdB)
	return (a*wa + b*wb) / (wa + wb), 1 / math.Sqrt(wa+wb)
}
