package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// group is a set of points that share a noise level and a roughness of motion.
type group uint8

const (
	groupHead group = iota
	groupTrunk
	groupElbow
	groupWrist
	groupLeg
	groupFoot
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
		case body.LeftKnee, body.RightKnee:
			g[p] = groupLeg
		case body.LeftAnkle, body.RightAnkle, body.LeftToe, body.RightToe, body.LeftHeel, body.RightHeel:
			g[p] = groupFoot
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

// Least noise that is believed: no estimator places a joint centre better than a
// couple of millimetres (optical systems: 1–2 mm, common practice, no source) or
// a fraction of a pixel, and a zero would make exact input look certain.
var leastNoise = [...]float64{place: 0.001, image: 0.3, reach: 0.001}

// differenceNoise estimates the white noise of sights of a kind from the fourth
// differences of evenly followed samples, one for each scalar, which motion hardly
// reaches: for white noise their sd is √70 σ (sum of squared binomials of 4).
// NaN without enough of them. It may put them into another order.
func differenceNoise(d []float64, k kind) float64 {
	if len(d) < 20 {
		return math.NaN()
	}
	// The lower quartile of |N(0,1)| is 0.3186; it is used rather than the
	// median because during the swing itself motion does reach these differences.
	return math.Max(leastNoise[k], unevenness*signal.Kth(d, len(d)/4)/0.3186/math.Sqrt(70))
}

// fourths appends to d the absolute fourth differences of one stream of sights, whose
// median step is given.
func fourths(d []float64, s []*sight, step float64) []float64 {
	for i := 4; i < len(s); i++ {
		if s[i].t-s[i-4].t > 4.6*step {
			continue
		}
		v := s[i].p.Add(s[i-4].p).Add(s[i-2].p.Scale(6)).Sub(s[i-1].p.Add(s[i-3].p).Scale(4))
		d = append(d, math.Abs(v.X))
		if s[i].kind != reach {
			d = append(d, math.Abs(v.Y))
		}
		if s[i].kind == place {
			d = append(d, math.Abs(v.Z))
		}
	}
	return d
}

// unevenness is the root mean square of a noise that is not the same in every
// frame over what its quieter half shows: 1.08 for a third of log-spread.
const unevenness = 1.08

func medianStep(s []sight) float64 {
	if len(s) < 2 {
		return math.Inf(1)
	}
	d := make([]float64, len(s)-1)
	for i := range d {
		d[i] = s[i+1].t - s[i].t
	}
	return signal.Kth(d, len(d)/2)
}

// stepOf is medianStep of sights picked out.
func stepOf(s []*sight) float64 {
	if len(s) < 2 {
		return math.Inf(1)
	}
	d := make([]float64, len(s)-1)
	for i := range d {
		d[i] = s[i+1].t - s[i].t
	}
	return signal.Kth(d, len(d)/2)
}

// stream is one point's sights of one kind by one camera, as an even series that
// can be smoothed at once: world places in metres, or image points in pixels with
// the image taken for the plane Z = 0.
type stream struct {
	sights []sight
	scale  float64 // the stream's unit in one metre: 1, or pixels
}

// split takes a point's sights of a kind apart into streams, one for each camera.
func (m *scene) split(p body.Point, k kind) []stream {
	own := m.sights[p]
	counts := make([]int, 0, 2)
	eyes := make([]*camera.Pose, 0, 2)
	for i := range own {
		if own[i].kind != k {
			continue
		}
		at := slices.Index(eyes, own[i].eye)
		if at < 0 {
			at, eyes, counts = len(eyes), append(eyes, own[i].eye), append(counts, 0)
		}
		counts[at]++
	}
	out := make([]stream, len(eyes))
	for at, eye := range eyes {
		s := m.room.sightList(counts[at])
		for i := range own {
			if own[i].kind == k && own[i].eye == eye {
				s = append(s, own[i])
			}
		}
		out[at] = stream{sights: s, scale: m.scaleOf(eye)}
	}
	return out
}

// scaleOf is how many pixels a metre at the player spans in a camera; 1 for places.
func (m *scene) scaleOf(eye *camera.Pose) float64 {
	if eye == nil {
		return 1
	}
	var at geom.Vec3
	n := 0.0
	for _, p := range [2]body.Point{body.LeftShoulder, body.RightShoulder} {
		for i := range m.crossings[p] {
			at = at.Add(m.crossings[p][i].p)
			n++
		}
	}
	if n == 0 {
		return 150
	}
	return eye.Focal / math.Max(0.5, eye.InCamera(at.Scale(1/n)).Z)
}

// scaleOfKind is how many units of a kind of sight a metre at the player spans.
func (m *scene) scaleOfKind(k kind) float64 {
	if k != image || m.rig == nil || len(m.rig.Eyes) == 0 {
		return 1
	}
	return m.scaleOf(&m.rig.Eyes[0])
}

// streams lists what tells of a point's motion evenly: its sights themselves where they are
// world places, or copies of its image points, counted from the image point seen first.
func (m *scene) streams(p body.Point) []stream {
	if m.rig == nil {
		if len(m.sights[p]) == 0 {
			return nil
		}
		return []stream{{m.sights[p], 1}}
	}
	out := m.split(p, image)
	for i := range out {
		origin := out[i].sights[0].p
		for j := range out[i].sights {
			s := &out[i].sights[j]
			s.kind, s.p = place, s.p.Sub(origin)
		}
	}
	return out
}

// measureNoise learns the noise of each group and kind and gives it to the sights.
func (m *scene) measureNoise() {
	c := m.learnColour()
	for _, k := range [...]kind{place, image, reach} {
		m.measureKind(k, c)
	}
	for p := range m.sights {
		for i := range m.sights[p] {
			s := &m.sights[p][i]
			if s.errs != nil {
				continue // a lift says itself how it errs
			}
			s.h = &m.noise[s.kind][groupOf[p]]
			s.sd = s.h.felt
		}
	}
}

func (m *scene) measureKind(k kind, c signal.Colour) {
	step := 0.0
	if !m.sees(k) {
		for g := range numGroups {
			m.noise[k][g] = split(c, usualNoise[k], step)
		}
		return
	}
	for g := range numGroups {
		d := m.differences(m.room.numbers[:0], k, g, &step)
		m.room.numbers = d
		m.noise[k][g].white = differenceNoise(d, k) // for the moment
	}
	all := math.NaN()
	for g := range numGroups {
		sd := m.noise[k][g].white
		if math.IsNaN(sd) && g == groupBall {
			sd = m.noise[k][groupRacket].total()
		}
		if !(sd > 0) {
			if math.IsNaN(all) {
				all = m.bodyNoise(k, &step)
			}
			sd = all
		}
		h := split(c, sd, step)
		// One camera's rivals in depth are weighed, and the power that their evidence is
		// taken to (evidenceTrust) was found, by the white part alone.
		if h.felt = h.white; !m.oneEye() {
			h.felt = h.feltBy(square(m.scaleOfKind(k))*m.rough[g].level, step)
		}
		m.noise[k][g] = h
	}
}

// sees reports whether there are sights of a kind.
func (m *scene) sees(k kind) bool {
	for p := range m.sights {
		for i := range m.sights[p] {
			if m.sights[p][i].kind == k {
				return true
			}
		}
	}
	return false
}

// differences appends to d those of all streams of a group's sights of a kind, and raises
// step to the longest median step of them.
func (m *scene) differences(d []float64, k kind, g group, step *float64) []float64 {
	for _, eye := range m.eyes(k) {
		for p := range body.NumPoints {
			if groupOf[p] != g {
				continue
			}
			own := m.room.near[:0]
			for i := range m.sights[p] {
				if s := &m.sights[p][i]; s.kind == k && s.eye == eye {
					own = append(own, s)
				}
			}
			if m.room.near = own; len(own) > 0 {
				h := stepOf(own)
				*step = math.Max(*step, h)
				d = fourths(d, own, h)
			}
		}
	}
	return d
}

// bodyNoise is the noise of the body's groups together, by their differences.
func (m *scene) bodyNoise(k kind, step *float64) float64 {
	d := m.room.numbers[:0]
	for g := range groupRacket {
		d = m.differences(d, k, g, step)
	}
	m.room.numbers = d
	sd := differenceNoise(d, k)
	if math.IsNaN(sd) {
		return usualNoise[k]
	}
	return sd
}

// eyes lists the cameras whose sights of a kind are streams of their own; places and
// reaches are of no camera.
func (m *scene) eyes(k kind) (out []*camera.Pose) {
	if k != image {
		return []*camera.Pose{nil}
	}
	if m.rig != nil {
		for i := range m.rig.Eyes {
			out = append(out, &m.rig.Eyes[i])
		}
	}
	return out
}

// usualNoise is believed where too little was seen to tell, metres and pixels.
var usualNoise = [...]float64{place: 0.02, image: 2, reach: 0.045}
