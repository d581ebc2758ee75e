package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// tie is a segment between two ends, each a joint or the middle of two.
type tie struct {
	a, b  [2]int // joints; b second −1: one joint
	kind  int
	rigid float64 // m: how much its length varies, joint centres being no points of bone
}

func one(p body.Point) [2]int    { return [2]int{int(p), -1} }
func mid(p, q body.Point) [2]int { return [2]int{int(p), int(q)} }

var ties = []tie{
	{a: one(body.LeftShoulder), b: one(body.LeftElbow), kind: paramUpperArm, rigid: 0.008},
	{a: one(body.RightShoulder), b: one(body.RightElbow), kind: paramUpperArm, rigid: 0.008},
	{a: one(body.LeftElbow), b: one(body.LeftWrist), kind: paramForearm, rigid: 0.006},
	{a: one(body.RightElbow), b: one(body.RightWrist), kind: paramForearm, rigid: 0.006},
	{a: one(body.LeftHip), b: one(body.LeftKnee), kind: paramThigh, rigid: 0.008},
	{a: one(body.RightHip), b: one(body.RightKnee), kind: paramThigh, rigid: 0.008},
	{a: one(body.LeftKnee), b: one(body.LeftAnkle), kind: paramShank, rigid: 0.006},
	{a: one(body.RightKnee), b: one(body.RightAnkle), kind: paramShank, rigid: 0.006},
	{a: one(body.LeftShoulder), b: one(body.RightShoulder), kind: paramShoulders, rigid: 0.012},
	{a: one(body.LeftHip), b: one(body.RightHip), kind: paramHips, rigid: 0.005},
	{a: one(body.LeftEar), b: one(body.RightEar), kind: paramEars, rigid: 0.004},
	{a: one(body.Nose), b: mid(body.LeftEar, body.RightEar), kind: paramNose, rigid: 0.006},
	{a: mid(body.LeftShoulder, body.RightShoulder), b: mid(body.LeftHip, body.RightHip), kind: paramTrunk, rigid: 0.015},
	{a: mid(body.LeftEar, body.RightEar), b: mid(body.LeftShoulder, body.RightShoulder), kind: paramNeck, rigid: 0.012},
}

// end is one end of a tie at a node: its distance and its ray.
func (l *lift) end(i int, e [2]int) (lam float64, ray geom.Vec3, ok bool) {
	k := i * liftJoints
	if !l.seen[e[0]] || e[1] >= 0 && !l.seen[e[1]] {
		return 0, ray, false
	}
	if e[1] < 0 {
		return l.lam[k+e[0]], l.ray[e[0]][i], true
	}
	lam = (l.lam[k+e[0]] + l.lam[k+e[1]]) / 2
	return lam, l.at(i, e[0]).Lerp(l.at(i, e[1]), 0.5).Scale(1 / lam), true
}

// slant is how a segment of length L between two rays tilts: with δ the
// difference of the ends' distances and λ their mean, its squared length is
// λ²p² + R²u², u = δ + bλ.
type slant struct {
	u, h    float64 // h: |u| at which the segment has its length; 0 where the image shows it longer
	r2, p   float64
	b, lam  float64
	present float64 // its length now
}

// between is what two rays say of a slant.
func between(r1, r2 geom.Vec3) (s slant) {
	mean, diff := r1.Lerp(r2, 0.5), r1.Sub(r2)
	s.r2 = mean.Dot(mean)
	s.b = diff.Dot(mean) / s.r2
	s.p = math.Sqrt(math.Max(0, diff.Dot(diff)-s.b*s.b*s.r2))
	return s
}

// at is the slant between two distances along its rays.
func (s slant) at(lam1, lam2, length float64) slant {
	s.lam = (lam1 + lam2) / 2
	s.u = lam1 - lam2 + s.b*s.lam
	across := s.lam * s.p
	s.present = math.Sqrt(across*across + s.r2*s.u*s.u)
	s.h = math.Sqrt(math.Max(0, length*length-across*across) / s.r2)
	return s
}

func slantOf(lam1 float64, r1 geom.Vec3, lam2 float64, r2 geom.Vec3, length float64) slant {
	return between(r1, r2).at(lam1, lam2, length)
}

// layTies works out what the rays say of the ties between two joints.
func (l *lift) layTies() {
	l.slants = make([][]slant, len(ties))
	for k := range ties {
		t := &ties[k]
		if t.a[1] >= 0 || t.b[1] >= 0 || !l.seen[t.a[0]] || !l.seen[t.b[0]] {
			continue
		}
		l.slants[k] = make([]slant, len(l.t))
		for i := range l.t {
			l.slants[k][i] = between(l.ray[t.a[0]][i], l.ray[t.b[0]][i])
		}
	}
}

// slant is how tie k tilts at node i, about a length; false where an end is not seen.
func (l *lift) slant(i, k int, length float64) (slant, bool) {
	t := &ties[k]
	if s := l.slants[k]; s != nil {
		q := l.lam[i*liftJoints:]
		return s[i].at(q[t.a[0]], q[t.b[0]], length), true
	}
	lam1, r1, ok1 := l.end(i, t.a)
	lam2, r2, ok2 := l.end(i, t.b)
	if !ok1 || !ok2 {
		return slant{}, false
	}
	return slantOf(lam1, r1, lam2, r2, length), true
}

// lengthMemory is the time over which errors of an image point last, seconds: within
// it, further nodes tell little more.
const lengthMemory = 0.06

// addSegments holds the segments of a node to their lengths.
func (l *lift) addSegments(i int) {
	weight := l.tieWeight(i)
	for k := range ties {
		t := &ties[k]
		length := l.lengths[t.kind]
		s, ok := l.slant(i, k, length)
		if !ok {
			continue
		}
		sd := l.tieSD(t, &s)
		slope := s.r2 * s.u / math.Max(s.present, 1e-6)
		stretch := s.lam * s.p * s.p / math.Max(s.present, 1e-6)
		res := (s.present - length) / sd
		var r liftRow
		l.share(&r, i, t.a, (slope*(1+s.b/2)+stretch/2)/sd)
		l.share(&r, i, t.b, (slope*(-1+s.b/2)+stretch/2)/sd)
		r.param(paramStature, -length/sd)
		r.param(t.kind, -length/sd)
		l.addRobust(&r, res, weight)
		if more := s.bend(length, sd) - square(slope/sd); more > 0 {
			f := math.Sqrt(more)
			var r liftRow // says nothing of where to go
			l.share(&r, i, t.a, f*(1+s.b/2))
			l.share(&r, i, t.b, f*(-1+s.b/2))
			l.add(&r, 0, weight*robustWeight(res*res, 1))
		}
	}
}

// tieWeight is the share of an independent statement that a node makes of a segment.
func (l *lift) tieWeight(i int) float64 { return l.span[i] / (l.span[i] + lengthMemory) }

// tieSD is the sd of a segment's length at a node, metres: joint centres are no points of bone, and
// the image errs.
func (l *lift) tieSD(t *tie, s *slant) float64 {
	across := s.lam * s.p / math.Max(s.present, 1e-6) // share of the length that the image shows
	px := s.lam / l.eye.Focal * math.Hypot(l.blurOf(t.a), l.blurOf(t.b))
	return math.Sqrt(t.rigid*t.rigid + across*across*px*px)
}

// bend is the information, 1/m², on a slant's u of a length with that sd, beside what it is
// now: an upper bound of the curvature of its squared misfit, so that steps do not go too
// far. First order alone says nothing of a segment that lies across the view. Seen as long as
// it is or longer, it is held there by second order; seen shorter, the secant from here to
// where it fits bends most on the way. And one that is seen as long as it is, within the
// error, has the likelihood exp(−u⁴/8L²σ²), a spread of √(Lσ) about zero.
func (s *slant) bend(length, sd float64) float64 {
	v := 1 / (sd * sd)
	across := s.lam * s.p
	var info float64
	if s.present > length {
		info = v * (square(s.r2*s.u/s.present) + (s.present-length)*s.r2*across*across/(s.present*s.present*s.present))
	} else {
		info = v * square(s.r2*(math.Abs(s.u)+s.h)/(s.present+length))
	}
	if s.h*s.h < 2*length*sd {
		info = math.Max(info, 1/(length*sd))
	}
	return info
}

// share gives a coefficient to the joints of an end.
func (l *lift) share(r *liftRow, i int, e [2]int, c float64) {
	k := i * liftJoints
	if e[1] < 0 {
		r.put(k+e[0], c)
		return
	}
	r.put(k+e[0], c/2)
	r.put(k+e[1], c/2)
}

func (l *lift) blurOf(e [2]int) float64 {
	if e[1] < 0 {
		return l.blur[e[0]]
	}
	return math.Hypot(l.blur[e[0]], l.blur[e[1]]) / 2
}

// Over a swing a segment lies across the line of sight at some time, so the longest
// that the image shows of it (its 95th percentile in the window) is hardly less than its
// length: by a share of longestLess with longestSD. Not so for the hips, which turn less.
// Set by recorded strokes; no source.
const (
	longestLess = 0.01
	longestSD   = 0.03
)

// addLongest holds each segment's length to the longest that the image shows.
func (l *lift) addLongest() {
	if l.worlds == nil { // lift_volume.go says the same, and more of it
		return
	}
	n := len(l.t)
	long, order := l.long[:n], l.order[:n]
	few := int(0.95 * float64(n-1))
	for k := range ties {
		t := &ties[k]
		if t.kind == paramHips || t.kind >= paramEars {
			continue
		}
		usual := l.lengths[t.kind]
		for i := range n {
			s, ok := l.slant(i, k, usual)
			if !ok {
				return
			}
			long[i] = s.lam * s.p
		}
		copy(order, long)
		i := slices.Index(long, signal.Kth(order, few))
		if long[i] < 0.6*usual {
			continue
		}
		var r liftRow
		sd := longestSD * usual
		c := long[i] / ((l.lam[i*liftJoints+t.a[0]] + l.lam[i*liftJoints+t.b[0]]) / 2) / sd
		l.share(&r, i, t.a, c/2)
		l.share(&r, i, t.b, c/2)
		r.param(paramStature, -usual*(1-longestLess)/sd)
		r.param(t.kind, -usual*(1-longestLess)/sd)
		l.addRobust(&r, (long[i]-usual*(1-longestLess))/sd, 1)
	}
}
