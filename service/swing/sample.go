package swing

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

const (
	left, right = 0, 1

	// bodyLength is trunk + thigh + shank of a person of referenceStature:
	// 0.288 + 0.245 + 0.246 of stature (Drillis & Contini 1966, from memory).
	referenceStature = 1.70
	bodyLength       = 0.779 * referenceStature

	// sizeLook is how far back, real seconds, an image looks for the body at its
	// tallest: a bent or turned body looks shorter than it is.
	sizeLook, sizeLooks = 1.0, 8
)

// sample is how fast the player moved at one frame, from the frames around it
// alone: nothing older or newer than fitReach (an image's scale: sizeLook)
// enters. That is what makes a resumed stream find the same swings.
//
// Speeds and lengths are as a person of referenceStature would have them.
type sample struct {
	timeUS int64
	hand   [2]float32    // speed of the left and right wrist relative to the body, m/s
	free   [2]float32    // speed of the wrists in the axes given, m/s
	rise   [2]float32    // upward part of hand, m/s
	flow   [2][2]float32 // level part of hand along two level axes, those that facing is told in, m/s
	wide   [2][3]float32 // velocity of the wrists relative to the body along the two level axes and up, over wideHalf, m/s; 0 where a racket is seen or nothing in the world
	high   [2]float32    // height of the wrists over the body's centre, m
	turn   float32       // turn rate of the shoulders about the vertical (in an image: as it shows), deg/s; 0 unknown
	facing float32       // heading of the shoulders about the vertical, degrees in (−180, 180]; NaN unknown
	blur   float32       // what noise makes of facing, degrees
	tip    float32       // speed of the racket tip relative to the body, m/s; 0 unknown
	racket int8          // the side of the hand at the racket, as said or seen; −1 unknown
	other  bool          // somebody else than the sample before
	world  bool          // measured in the world, not in an image
	ok     bool
}

// fastest returns the speed of the faster hand and its side.
func (s *sample) fastest() (float64, int) {
	if s.hand[left] > s.hand[right] {
		return float64(s.hand[left]), left
	}
	return float64(s.hand[right]), right
}

// view reads places of one camera's frames as vectors: world points in metres,
// else image points in metres by the body's own size (z = 0, y down).
type view struct {
	ring  *ring
	axes  camera.Axes
	slow  float64 // clip seconds per real second
	world bool    // reads world points, else image points
	scale float64 // metres per pixel; 0: not known
	low   uint64  // no frame before this place is read
	faint bool    // breaks of a ball's flight are told that show beside a swing alone (faintGain)
	fit   *fit    // room for one: all views of a machine share it

	stature float64   // metres; 0 unknown
	hand    body.Hand // that holds the racket, as the setup says
}

// seconds returns the real time from a to b, seconds.
func (v *view) seconds(a, b int64) float64 { return float64(b-a) * 1e-6 / v.slow }

// us returns a real time in microseconds of the clip's clock.
func (v *view) us(seconds float64) int64 { return int64(math.Round(seconds * 1e6 * v.slow)) }

// point returns one point of a frame.
func (v *view) point(place uint64, p body.Point) (geom.Vec3, bool) {
	if v.world {
		w := v.ring.seen3(v.ring.row(place), p)
		return geom.Vec3{X: float64(w.X), Y: float64(w.Y), Z: float64(w.Z)}, w.Score > 0
	}
	return v.pixel(place, p)
}

// pixel returns one image point, scaled.
func (v *view) pixel(place uint64, p body.Point) (geom.Vec3, bool) {
	i := v.ring.seen2(v.ring.row(place), p)
	return geom.Vec3{X: float64(i.X) * v.scale, Y: float64(i.Y) * v.scale}, i.Score > 0
}

// middle returns the midpoint of two points, or the stand-in of a layout that has
// no such pair.
func (v *view) middle(place uint64, a, b, standIn body.Point) (geom.Vec3, bool) {
	if !v.shows(a) || !v.shows(b) {
		return v.point(place, standIn)
	}
	p, ok := v.point(place, a)
	q, ok2 := v.point(place, b)
	return p.Add(q).Scale(0.5), ok && ok2
}

func (v *view) midHip(place uint64) (geom.Vec3, bool) {
	return v.middle(place, body.LeftHip, body.RightHip, body.MidHip)
}

func (v *view) midShoulder(place uint64) (geom.Vec3, bool) {
	return v.middle(place, body.LeftShoulder, body.RightShoulder, body.Neck)
}

// center returns the body's centre: mid-hip, or mid-shoulder for a camera that
// has never shown hips. A frame without it has none: a centre that jumps from
// one to the other would look like a swing.
func (v *view) center(place uint64) (geom.Vec3, bool) {
	if v.shows(body.LeftHip) || v.shows(body.MidHip) {
		return v.midHip(place)
	}
	return v.midShoulder(place)
}

// shows reports whether the camera has ever given a point.
func (v *view) shows(p body.Point) bool {
	if v.world {
		return v.ring.world[p] >= 0
	}
	return v.ring.image[p] >= 0
}

// up returns the vertical: +Y in level axes, −Y (image down is y) in camera
// axes and pixels. Axes that nobody named: the axis that the trunk lies along.
func (v *view) up(place uint64) geom.Vec3 {
	switch {
	case !v.world || v.axes == camera.AxesCamera:
		return geom.Vec3{Y: -1}
	case v.axes != camera.AxesUnknown:
		return geom.Vec3{Y: 1}
	}
	s, ok := v.midShoulder(place)
	h, ok2 := v.midHip(place)
	if !ok || !ok2 {
		return geom.Vec3{Y: 1}
	}
	return mainAxis(s.Sub(h))
}

// mainAxis returns the signed unit axis nearest to d.
func mainAxis(d geom.Vec3) geom.Vec3 {
	x, y, z := math.Abs(d.X), math.Abs(d.Y), math.Abs(d.Z)
	switch {
	case y >= x && y >= z:
		return geom.Vec3{Y: math.Copysign(1, d.Y)}
	case x >= z:
		return geom.Vec3{X: math.Copysign(1, d.X)}
	}
	return geom.Vec3{Z: math.Copysign(1, d.Z)}
}

// lengths returns the body's lengths at a frame.
func (v *view) lengths(place uint64) *lengths {
	return v.ring.tallOf(v.ring.row(place))
}

// maxSide bounds the frames on each side of a fit; at high rates every second,
// third … frame is taken, so that a frame costs the same at any rate.
const maxSide = 8

// window is the frames of one fit: from place − before to place + after, in steps.
type window struct {
	place         uint64
	before, after int
	step          int
}

// span returns the frames from t seconds before to t seconds after the one at
// place, or two each side when the rate is low, never further than fitReach.
func (v *view) span(place uint64, t float64) window {
	w := window{place: place}
	at := v.ring.time(place)
	for place-uint64(w.before) > max(v.ring.first, v.low) && w.before < maxRingFrames/2 && !v.ring.wall(place-uint64(w.before)) {
		d := v.seconds(v.ring.time(place-uint64(w.before)-1), at)
		if d > t && (w.before >= 2 || d > fitReach) {
			break
		}
		w.before++
	}
	for place+uint64(w.after)+1 < v.ring.next && w.after < maxRingFrames/2 && !v.ring.wall(place+uint64(w.after)+1) {
		d := v.seconds(at, v.ring.time(place+uint64(w.after)+1))
		if d > t && (w.after >= 2 || d > fitReach) {
			break
		}
		w.after++
	}
	w.step = 1 + (max(w.before, w.after)-1)/maxSide
	return w
}

// pick names a vector of a frame, for a fit.
type pick func(v *view, place uint64) (geom.Vec3, bool)

// motionOf fits the motion of a vector around a frame.
func (v *view) motionOf(p pick, w window) (motion, bool) {
	v.fit.reset()
	at := v.ring.time(w.place)
	for k := -w.before / w.step; k <= w.after/w.step; k++ {
		place := uint64(int64(w.place) + int64(k*w.step))
		if x, ok := p(v, place); ok {
			v.fit.add(v.seconds(at, v.ring.time(place)), x)
		}
	}
	return v.fit.at()
}

// The vectors that are fitted.
var (
	centerPick   = pick((*view).center)
	wrists       = [2]pick{pickPoint(body.LeftWrist), pickPoint(body.RightWrist)}
	tipPick      = pickPoint(body.RacketTip)
	shoulderLine = pick(func(v *view, k uint64) (geom.Vec3, bool) {
		l, ok := v.point(k, body.LeftShoulder)
		r, ok2 := v.point(k, body.RightShoulder)
		return r.Sub(l), ok && ok2
	})
)

func pickPoint(p body.Point) pick {
	return func(v *view, k uint64) (geom.Vec3, bool) { return v.point(k, p) }
}

// sample measures the motion around the frame at place. It is not ok when the
// hands were not seen for long enough around it.
func (v *view) sample(place uint64) sample {
	s := sample{timeUS: v.ring.time(place), facing: float32(math.NaN()), racket: -1}
	s.other = v.ring.wall(place)
	w := v.span(place, fitHalf)
	if w.before < 2 || w.after < 2 {
		return s
	}
	v.world = v.seesWorld(w)
	s.world = v.world
	v.scale = v.metresPerPixel(place)
	froude := v.froude(place)
	if froude == 0 {
		return s
	}
	s.racket = v.racketSide(place)
	trunk, ok := v.motionOf(centerPick, v.span(place, trunkHalf))
	v.readHands(&s, w, trunk, ok, froude)
	v.readTip(&s, v.span(place, tipHalf), trunk, ok, froude)
	if v.world {
		v.readTurn(&s, place, froude)
		if s.tip == 0 {
			v.readWide(&s, trunk, ok, froude)
		}
	} else {
		v.readApparentTurn(&s, place)
	}
	return s
}

// seesWorld reports whether the frames of a fit hold world points of the hands.
func (v *view) seesWorld(w window) bool {
	for k := w.place - uint64(w.before); k <= w.place+uint64(w.after); k++ {
		if v.ring.worldAt(k, body.LeftWrist).Score > 0 || v.ring.worldAt(k, body.RightWrist).Score > 0 {
			return true
		}
	}
	return false
}

// readHands fills in the speeds of the wrists, divided by froude. Wrist and
// body's centre are fitted apart, so that what one of them lacks costs the other
// nothing.
func (v *view) readHands(s *sample, w window, trunk motion, known bool, froude float64) {
	if !known {
		return
	}
	up := v.up(w.place)
	x := level(up)
	for side, p := range wrists {
		m, ok := v.motionOf(p, w)
		if !ok {
			continue
		}
		hand := m.Vel.Sub(trunk.Vel)
		s.hand[side] = float32(hand.Norm() / froude)
		s.rise[side] = float32(hand.Dot(up) / froude)
		s.flow[side] = [2]float32{float32(hand.Dot(x) / froude), float32(hand.Dot(up.Cross(x)) / froude)}
		s.free[side] = float32(m.Vel.Norm() / froude)
		s.high[side] = float32(m.Pos.Sub(trunk.Pos).Dot(up) / (froude * froude))
		s.ok = true
	}
}

// readWide fills in the velocities of the wrists over wideHalf.
func (v *view) readWide(s *sample, trunk motion, known bool, froude float64) {
	if !known {
		return
	}
	w := v.span(v.ring.since(s.timeUS), wideHalf)
	up := v.up(w.place)
	x := level(up)
	z := up.Cross(x)
	for side, p := range wrists {
		if m, ok := v.motionOf(p, w); ok {
			hand := m.Vel.Sub(trunk.Vel)
			s.wide[side] = [3]float32{float32(hand.Dot(x) / froude), float32(hand.Dot(z) / froude), float32(hand.Dot(up) / froude)}
		}
	}
}

// foreshortened is by how much an image's speeds are raised to stand for speeds
// in space: the mean of 1/sin over a sphere's directions is infinite, the inverse
// of the mean of sin 4/π; 1.2 is on the side of caution.
const foreshortened = 1.2

// readTip fills in the speed of the racket tip: in the world, else in the image.
func (v *view) readTip(s *sample, w window, trunk motion, known bool, froude float64) {
	m, ok := v.motionOf(tipPick, w)
	world := v.world
	if !world {
		froude /= foreshortened
	}
	if !ok && world && v.scale > 0 {
		froude /= foreshortened
		v.world = false
		if m, ok = v.motionOf(tipPick, w); ok {
			trunk, known = v.motionOf(centerPick, v.span(w.place, trunkHalf))
		}
	}
	if ok && known {
		s.tip = float32(m.Vel.Sub(trunk.Vel).Norm() / froude)
	}
	v.world = world
}

// readTurn fills in the heading and the turn rate of the shoulder line about
// the vertical.
func (v *view) readTurn(s *sample, place uint64, froude float64) {
	m, ok := v.motionOf(shoulderLine, v.span(place, turnHalf))
	if !ok {
		return
	}
	up := v.up(place)
	flat := m.Pos.Sub(up.Scale(m.Pos.Dot(up)))
	const narrow = 0.15 // metres: a line that stands on end has no heading
	rate := geom.Angle(flat.Cross(m.Vel).Dot(up) / math.Max(flat.Dot(flat), narrow*narrow))
	s.turn = float32(rate.Degrees() * froude)
	s.blur = v.blurOf(flat.Norm())
	x := level(up)
	s.facing = float32(geom.Angle(math.Atan2(flat.Dot(up.Cross(x)), flat.Dot(x))).Degrees())
}

// shoulderWidth is the distance of the shoulder joints of a person of
// referenceStature, metres: 0.22 of stature (Drillis & Contini 1966 give 0.259
// for the outer breadth; joints lie inside, from memory).
const shoulderWidth = 0.22 * referenceStature

// readApparentTurn fills in what an image shows of the chest's turn: the
// shoulders' width across the image, 90° for a chest square to the camera, −90°
// for a back. It goes with the heading except where the chest passes square.
func (v *view) readApparentTurn(s *sample, place uint64) {
	m, ok := v.motionOf(shoulderLine, v.span(place, turnHalf))
	if !ok {
		return
	}
	per := 90 / (shoulderWidth * v.bodyMetres() / bodyLength)
	s.facing, s.turn = float32(m.Pos.X*per), float32(m.Vel.X*per)
	s.blur = v.blurOf(shoulderWidth)
}

// blurOf returns the standard deviation, degrees, of a heading that was just
// fitted to a line of the given length: the scatter over √n, 1.5 for a parabola.
func (v *view) blurOf(length float64) float32 {
	const narrow = 0.15
	return float32(geom.Angle(1.5 * v.fit.scatter() / math.Sqrt(float64(max(v.fit.n, 1))) / math.Max(length, narrow)).Degrees())
}

// level returns a fixed unit axis across an upright one.
func level(up geom.Vec3) geom.Vec3 {
	if math.Abs(up.X) > 0.5 {
		return geom.Vec3{Z: 1}
	}
	return geom.Vec3{X: 1}
}

// froude returns √(the body's length ÷ bodyLength): the speeds of alike motions
// of small and tall people go with the root of their length (Froude number;
// Alexander 1989, from memory). 1 when the body is not seen whole; 0 when
// nothing is.
func (v *view) froude(place uint64) float64 {
	if !v.world {
		if v.scale == 0 {
			return 0
		}
		return math.Sqrt(v.bodyMetres() / bodyLength)
	}
	sum, n := 0.0, 0.0
	for k := max(place, v.ring.first+2, v.low+2) - 2; k < min(place+3, v.ring.next); k++ {
		if l := float64(v.lengths(k).world); l > 0 {
			sum += l
			n++
		}
	}
	if n == 0 {
		return 1
	}
	const small, tall = 0.6, 1.4 // a child of a metre; nobody
	return math.Sqrt(min(max(sum/n/bodyLength, small), tall))
}

// bodyMetres returns the length of the body that an image is scaled by.
func (v *view) bodyMetres() float64 {
	if v.stature > 0 {
		return bodyLength * v.stature / referenceStature
	}
	return bodyLength
}

// metresPerPixel returns the image's scale at the body, from the tallest the
// body looked within the last sizeLook seconds, down to where it was seen; 0 when not
// even its trunk was.
func (v *view) metresPerPixel(place uint64) float64 {
	if v.ring.image[body.LeftShoulder] < 0 && v.ring.image[body.Neck] < 0 {
		return 0
	}
	var tallest [downTos]float32
	first := v.ring.same(max(v.ring.since(v.ring.time(place)-v.us(sizeLook)), v.low), place)
	k := place
	for i := range sizeLooks {
		t := v.ring.time(place) - v.us(sizeLook*float64(i)/sizeLooks)
		k = v.ring.sinceIn(first, k, t)
		for d, x := range v.lengths(k).image {
			tallest[d] = max(tallest[d], x)
		}
	}
	for _, l := range tallest {
		if l >= 1 {
			return v.bodyMetres() / float64(l)
		}
	}
	return 0
}
