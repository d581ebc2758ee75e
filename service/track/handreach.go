package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// How far impact follows the hand's fastest instant differs from player to player more than
// where it happens: well ahead of the hitting shoulder in ground strokes and volleys, with the
// elbow just past its fastest extension over the head. Three simulators that share nothing
// (made strokes, one by lognormal pulses, one with driven rackets) were asked for what they agree on.
const (
	// metAhead is how far the hitting wrist is ahead of its shoulder at impact, in the
	// direction of play, and metAheadSD the spread, over the trunk's length from mid-hip
	// to mid-shoulder: the three have 0.44, 0.76 and 0.49 of ground strokes and volleys of
	// one hand, one-handed backhands as forehands, though the hand's lead over the hips differs twofold.
	metAhead, metAheadSD = 0.53, 0.15
	// metWithin is how near to the instant the hand goes forward fastest that is looked
	// for, seconds.
	metWithin = 0.16
	// leastForward is the least speed, trunks a second, at which the hand goes ahead of the
	// shoulder there: below it the place tells nothing of the time.
	leastForward = 2.0

	// extendLead is how long after the elbow extends fastest a serve or smash is hit, and
	// extendLeadSD the spread, seconds: the three have 22 ± 6, 31 ± 29 and 17 ± 10 ms.
	// Servers' elbows extend fastest some 20 ms before impact (Elliott et al. 1995, from memory).
	extendLead, extendLeadSD = 0.022, 0.017
	// extendBefore and extendAfter are how far from the hand's top that is looked for, seconds:
	// the three have it 54, 49 and 52 ms before.
	extendBefore, extendAfter = 0.14, 0.05
)

// sideOf are the shoulder and elbow on a wrist's side.
var sideOf = map[body.Point][2]body.Point{
	body.LeftWrist:  {body.LeftShoulder, body.LeftElbow},
	body.RightWrist: {body.RightShoulder, body.RightElbow},
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
func (m *scene) byReach(wrist *path, p body.Point, ahead geom.Vec3, fastest float64) (at, sd float64, ok bool) {
	g := wrist.g
	s := m.follow(g, sideOf[p][0], m.rough[groupTrunk])
	unit := m.trunk(g.t[0], g.t[len(g.t)-1])
	if s == nil || !(unit > 0) {
		return 0, 0, false
	}
	reach := func(i int) float64 { return wrist.mean[i].Sub(s.mean[i]).Dot(ahead)/unit - metAhead }
	near := metWithin
	for i := 1; i < len(g.t); i++ {
		a, b := reach(i-1), reach(i)
		t := g.t[i-1] + (g.t[i]-g.t[i-1])*a/(a-b)
		if a >= 0 || b < 0 || math.Abs(t-fastest) >= near {
			continue
		}
		if rate := (b - a) / (g.t[i] - g.t[i-1]); rate >= leastForward {
			at, sd, ok = t, metAheadSD/rate, true
			near = math.Abs(t - fastest)
		}
	}
	return at, sd, ok
}

// byElbow returns when the elbow of a hand that is highest at an instant extends fastest before.
func (m *scene) byElbow(wrist *path, p body.Point, top float64) (at float64, ok bool) {
	g := wrist.g
	s, e := m.follow(g, sideOf[p][0], m.rough[groupTrunk]), m.follow(g, sideOf[p][1], m.rough[groupElbow])
	if s == nil || e == nil {
		return 0, false
	}
	flexion := func(i int) float64 {
		upper, fore := e.mean[i].Sub(s.mean[i]), wrist.mean[i].Sub(e.mean[i])
		return math.Atan2(upper.Cross(fore).Norm(), upper.Dot(fore))
	}
	most := 0.0
	for i := 1; i+1 < len(g.t); i++ {
		t := g.t[i]
		if t < top-extendBefore || t > top+extendAfter || !wrist.covers(t) {
			continue
		}
		if v := flexion(i-1) - flexion(i+1); v > most {
			most, at, ok = v, t, true
		}
	}
	return at, ok
}

// joined returns the mean of two estimates that err apart from one another, and its sd.
func joined(a, sdA, b, sdB float64) (at, sd float64) {
	wa, wb := 1/(sdA*sdA), 1/(sdB*sdB)
	return (a*wa + b*wb) / (wa + wb), 1 / math.Sqrt(wa+wb)
}
