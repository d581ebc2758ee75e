package camera

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/signal"
)

// Gravity is the upward direction as a camera sees it.
type Gravity struct {
	Up      geom.Vec3  // unit, camera axes: about (0, −1, 0) for a level camera
	PitchSD geom.Angle // about the camera's x axis: is it tilted down?
	RollSD  geom.Angle // about its z axis: is the horizon level?
	Frames  int        // frames that told of it; 0: the beliefs alone
}

// Beliefs about how a phone stands, all common practice, no source.
const (
	rollSD  = 2.5 * geom.Deg // on a stand or a fence: the picture looks level
	pitchSD = 10 * geom.Deg  // about level; higher cameras look down
	// A camera's height above the ground on a stand, a bench or a fence.
	cameraHeight, cameraHeightSD = 1.8, 0.8 // metres
	// balanceSD is how far, as an angle at the ankles, the mean centre of mass of a
	// player in play lies from over the weighted part of the feet, about each axis. Recorded
	// strokes (30 clips of marker-based capture, 2–6 s) show 2.2° rms.
	balanceSD = 2.5 * geom.Deg
	// balanceBlock is the time, seconds, after which sway counts as independent.
	balanceBlock = 0.5
)

// Upright finds the upward direction from world points in camera axes: over a
// clip the centre of mass stays above the feet (the horizontal momentum that a
// player gains is lost again), so the mean line from the weighted part of the feet to
// the centre of mass is upright, however much the trunk leans. It is combined with
// beliefs on roll and pitch. Without usable frames the beliefs are returned.
func Upright(frames []body.Frame) Gravity {
	var pitch, roll, when []float64
	for i := range frames {
		line, ok := balanceLine(&frames[i].World)
		if !ok {
			continue
		}
		// Up is (sin roll, −cos …, sin pitch) to first order.
		pitch = append(pitch, math.Atan2(line.Z, -line.Y))
		roll = append(roll, math.Atan2(line.X, -line.Y))
		when = append(when, float64(frames[i].TimeUS)*1e-6)
	}
	g := Gravity{Frames: len(when)}
	p, psd := blend(pitch, when, pitchSD)
	r, rsd := blend(roll, when, rollSD)
	g.Up = geom.Vec3{X: math.Tan(r), Y: -1, Z: math.Tan(p)}.Unit()
	g.PitchSD, g.RollSD = geom.Angle(psd), geom.Angle(rsd)
	return g
}

// blend combines the trimmed mean of angles, with an sd from blocks of time, and
// a belief about zero.
func blend(a, when []float64, belief geom.Angle) (mean, sd float64) {
	b := float64(belief)
	if len(a) == 0 {
		return 0, b
	}
	blocks := map[int][]float64{}
	for i, v := range a {
		k := int(math.Floor(when[i] / balanceBlock))
		blocks[k] = append(blocks[k], v)
	}
	var means []float64
	for _, v := range blocks {
		means = append(means, trimmedMean(v))
	}
	slices.Sort(means)
	spread := float64(balanceSD) // of one block, when there are too few to see it
	if len(means) >= 4 {
		spread = signal.SD(means)
	}
	own := math.Hypot(float64(balanceSD), spread/math.Sqrt(float64(len(means))))
	w, v := 1/(own*own), 1/(b*b)
	return trimmedMean(a) * w / (w + v), 1 / math.Sqrt(w+v)
}

// trimmedMean is the mean without the highest and lowest tenth.
func trimmedMean(x []float64) float64 {
	s := slices.Sorted(slices.Values(x))
	cut := len(s) / 10
	return signal.Mean(s[cut : len(s)-cut])
}

// segment carries a share of the body's mass between two joints.
type segment struct {
	from, to body.Point
	along    float64 // centre of mass, as a share of from → to
	mass     float64
}

// segments: masses and centres after de Leva 1996 (J Biomech 29:1223), means of both
// sexes, rounded; the trunk runs from mid-shoulder to mid-hip and is given apart.
var segments = []segment{
	{body.LeftShoulder, body.LeftElbow, 0.57, 0.026}, {body.RightShoulder, body.RightElbow, 0.57, 0.026},
	{body.LeftElbow, body.LeftWrist, 0.46, 0.021}, {body.RightElbow, body.RightWrist, 0.46, 0.021},
	{body.LeftHip, body.LeftKnee, 0.39, 0.145}, {body.RightHip, body.RightKnee, 0.39, 0.145},
	{body.LeftKnee, body.LeftAnkle, 0.44, 0.060}, {body.RightKnee, body.RightAnkle, 0.44, 0.060},
}

const (
	trunkMass, trunkAlong = 0.43, 0.50
	headMass              = 0.068
	// weightAlong is where a player in play has his weight, from heel to toe: on the balls
	// of the feet rather than the heels. Common practice, no source.
	weightAlong = 0.62
	// ankleToWeight is the same from the ankle, as a share of the ankle–shoulder height:
	// 9 cm of 1.35 m (foot .152 H with the ankle a quarter along: Drillis & Contini 1966
	// and common practice).
	ankleToWeight = 0.068
)

// world3 is a world point as a vector, when seen.
func world3(w *[body.NumPoints]body.Seen3, p body.Point) (geom.Vec3, bool) {
	s := w[p]
	v := geom.Vec3{X: float64(s.X), Y: float64(s.Y), Z: float64(s.Z)}
	return v, s.Score > 0 && v.Finite()
}

// middle3 is the midpoint of a point and its twin.
func middle3(w *[body.NumPoints]body.Seen3, p body.Point) (geom.Vec3, bool) {
	a, ok := world3(w, p)
	b, too := world3(w, p.Twin())
	return a.Lerp(b, 0.5), ok && too
}

// balanceLine returns the line from the weighted part of the feet to the centre of mass;
// it needs shoulders, hips and ankles.
func balanceLine(w *[body.NumPoints]body.Seen3) (geom.Vec3, bool) {
	shoulders, a := middle3(w, body.LeftShoulder)
	hips, b := middle3(w, body.LeftHip)
	feet, c := middle3(w, body.LeftAnkle)
	if !a || !b || !c {
		return geom.Vec3{}, false
	}
	sum, mass := shoulders.Lerp(hips, trunkAlong).Scale(trunkMass), trunkMass
	head, ok := middle3(w, body.LeftEar)
	if !ok {
		head = shoulders.Lerp(hips, -0.35)
	}
	sum, mass = sum.Add(head.Scale(headMass)), mass+headMass
	for _, s := range segments {
		from, ok := world3(w, s.from)
		to, too := world3(w, s.to)
		if ok && too {
			sum, mass = sum.Add(from.Lerp(to, s.along).Scale(s.mass)), mass+s.mass
		}
	}
	line := sum.Scale(1 / mass).Sub(soles(w, feet, shoulders))
	// A body that lies or bends down tells nothing.
	return line, line.Norm() > 0.3 && -line.Y > 0.8*line.Norm()
}

// soles is where the feet bear the weight: between heels and toes when seen, else some
// centimetres in front of the ankles.
func soles(w *[body.NumPoints]body.Seen3, ankles, shoulders geom.Vec3) geom.Vec3 {
	toes, ok := middle3(w, body.LeftToe)
	heels, too := middle3(w, body.LeftHeel)
	if ok && too {
		return heels.Lerp(toes, weightAlong)
	}
	l, ok := world3(w, body.LeftHip)
	r, too := world3(w, body.RightHip)
	if !ok || !too {
		return ankles
	}
	up := shoulders.Sub(ankles)
	ahead := up.Cross(r.Sub(l)).Unit() // up × right is ahead
	return ankles.Add(ahead.Scale(ankleToWeight * up.Norm()))
}
