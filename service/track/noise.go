package track

import (
	"math"
	"sort"

	"example.com/courtkin/service/body"
)

// group is a set of points that share a noise level and a roughness of motion.
type group uint8

const (
	groupHead group = iota
	groupTrunk
	groupElbow
	groupWrist
	groupLeg
	groupRacket
	groupBall
	numGroups
)

var groupOf = func() (g [body.NumPoints]group) {
	for p := range body.NumPoints {
		switch p {
		case body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip, body.Chest, body.MidHip, body.Neck:
			g[p] = groupTrunk
		case body.LeftElbow, body.RightElbow:
			g[p] = groupElbow
		case body.LeftWrist, body.RightWrist, body.LeftHand, body.RightHand:
			g[p] = groupWrist
		case body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle,
			body.LeftToe, body.RightToe, body.LeftHeel, body.RightHeel:
			g[p] = groupLeg
		case body.Ball:
			g[p] = groupBall
		default:
			g[p] = groupHead
		}
		if p.IsRacket() {
			g[p] = groupRacket
		}
	}
	return g
}()

// Least noise that is believed, metres: no estimator places a joint centre
// better than a couple of millimetres (optical systems: 1–2 mm, common
// practice, no source), and a zero would make exact input look certain.
const leastNoise = 0.001

// differenceNoise estimates the white noise of a group of sights from the
// fourth differences of evenly followed samples, which motion hardly reaches:
// for white noise their sd is √70 σ (sum of squared binomials of 4). The
// median makes gross errors harmless. NaN without enough runs.
func differenceNoise(groups [][]sight) float64 {
	var d []float64
	for _, s := range groups {
		step := medianStep(s)
		for i := 4; i < len(s); i++ {
			if s[i].t-s[i-4].t > 4.6*step {
				continue
			}
			v := s[i].p.Add(s[i-4].p).Add(s[i-2].p.Scale(6)).Sub(s[i-1].p.Add(s[i-3].p).Scale(4))
			d = append(d, math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z))
		}
	}
	if len(d) < 20 {
		return math.NaN()
	}
	sort.Float64s(d)
	// The lower quartile of |N(0,1)| is 0.3186; it is used rather than the
	// median because during the swing itself motion does reach these differences.
	return math.Max(leastNoise, d[len(d)/4]/0.3186/math.Sqrt(70))
}

func medianStep(s []sight) float64 {
	if len(s) < 2 {
		return math.Inf(1)
	}
	d := make([]float64, 0, len(s)-1)
	for i := 1; i < len(s); i++ {
		d = append(d, s[i].t-s[i-1].t)
	}
	sort.Float64s(d)
	return d[len(d)/2]
}
