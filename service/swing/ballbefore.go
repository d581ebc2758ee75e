package swing

import (
	"iter"
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// The stretch before contact in which a tossed ball hangs over the server, while
// one that comes over the net is still metres away; seconds.
const ballFrom, ballTo = 0.45, 0.25

// ballBefore returns how far the ball was from the player's mid-shoulder, metres as
// a person of referenceStature would have them, in the median of a stretch
// before contact: in the world, else as the image shows it. NaN when fewer than
// three frames show both.
func ballBefore(window []body.Frame, w *track.Window, camera uint8, contact float64) float64 {
	var far []float64
	var size sizes
	world := ballInWorld(window, camera)
	for t, at := range framesFrom(window, w, camera, contact, world) {
		size.add(at)
		if t < -ballFrom || t > -ballTo {
			continue
		}
		ball, ok := at.point(body.Ball)
		l, ok2 := at.point(body.LeftShoulder)
		r, ok3 := at.point(body.RightShoulder)
		if ok && ok2 && ok3 {
			far = append(far, ball.Sub(l.Lerp(r, 0.5)).Norm())
		}
	}
	tall := size.tall()
	if len(far) < 3 || tall == 0 {
		return math.NaN()
	}
	slices.Sort(far)
	return far[len(far)/2] / tall * bodyLength
}

// The stretch before contact over which the ball's speed is read, seconds: a smash is
// hit after a second's fall, of which a camera that frames the player shows the end.
const fastFrom, fastTo = 0.25, 0.01

// ballSpeed returns how fast the ball moved before contact, m/s: in the world, else at
// the least, as the image shows it at the player's distance. The median over pairs of
// sights half the stretch apart, which an outlier does not move; NaN for fewer than four
// sights.
func ballSpeed(window []body.Frame, w *track.Window, camera uint8, contact float64) float64 {
	type seen struct {
		t float64
		p geom.Vec3
	}
	var path []seen
	var size sizes
	world := ballInWorld(window, camera)
	for t, at := range framesFrom(window, w, camera, contact, world) {
		size.add(at)
		if x, ok := at.point(body.Ball); ok && t > -fastFrom && t < -fastTo {
			path = append(path, seen{t, x})
		}
	}
	scale := 1.0
	if !world {
		tall := size.tall()
		if tall == 0 {
			return math.NaN()
		}
		scale = bodyLength / tall
		if w.Player.Stature > 0 {
			scale *= w.Player.Stature / referenceStature
		}
	}
	if len(path) < 4 {
		return math.NaN()
	}
	var rates []float64
	for h, k := len(path)/2, 0; k+h < len(path); k++ {
		a, b := path[k], path[k+h]
		rates = append(rates, b.p.Sub(a.p).Norm()*scale/(b.t-a.t))
	}
	slices.Sort(rates)
	return rates[len(rates)/2]
}

// ballInWorld tells whether a camera's frames hold the ball in the world, at least once.
func ballInWorld(window []body.Frame, camera uint8) bool {
	for i := range window { // by index: a frame is large
		if window[i].Camera == camera && window[i].World[body.Ball].Score > 0 {
			return true
		}
	}
	return false
}

// framesFrom walks one camera's frames with their times from contact, real seconds.
func framesFrom(window []body.Frame, w *track.Window, camera uint8, contact float64, world bool) iter.Seq2[float64, frameReader] {
	return func(yield func(float64, frameReader) bool) {
		for i := range window { // by index: a frame is large
			f := &window[i]
			t := float64(f.TimeUS-window[0].TimeUS)*1e-6/w.Slow - contact
			if f.Camera == camera && !yield(t, frameReader{f, world}) {
				return
			}
		}
	}
}

// frameReader reads one frame's points in the space in which its ball is seen.
type frameReader struct {
	f     *body.Frame
	world bool
}

func (r frameReader) point(p body.Point) (geom.Vec3, bool) {
	if r.world {
		x := r.f.World[p]
		return geom.Vec3{X: float64(x.X), Y: float64(x.Y), Z: float64(x.Z)}, x.Score > 0
	}
	x := r.f.Image[p]
	return geom.Vec3{X: float64(x.X), Y: float64(x.Y)}, x.Score > 0
}

// sizes are how long the body looks in some frames: whole, by trunk and thigh, by the
// trunk alone.
type sizes [downTos][]float64

// add takes in a frame in which the trunk is seen.
func (s *sizes) add(r frameReader) {
	mid := func(a, b body.Point) (geom.Vec3, bool) {
		p, ok := r.point(a)
		q, ok2 := r.point(b)
		return p.Lerp(q, 0.5), ok && ok2
	}
	top, ok := mid(body.LeftShoulder, body.RightShoulder)
	hips, ok2 := mid(body.LeftHip, body.RightHip)
	if !ok || !ok2 {
		return
	}
	trunk := top.Sub(hips).Norm()
	s[downToHip] = append(s[downToHip], trunk/trunkShare)
	thigh, l := r.legs([...]body.Point{body.LeftHip, body.RightHip, body.LeftKnee, body.RightKnee})
	if thigh == 0 {
		return
	}
	s[downToKnee] = append(s[downToKnee], (trunk+thigh)/thighShare)
	shank, m := r.legs([...]body.Point{body.LeftKnee, body.RightKnee, body.LeftAnkle, body.RightAnkle})
	if shank != 0 {
		s[downToAnkle] = append(s[downToAnkle], trunk+math.Max(l[0]+m[0], l[1]+m[1]))
	}
}

// legs returns the lengths of two legs' segments and the longer; 0 where not both are seen.
func (r frameReader) legs(p [4]body.Point) (longer float64, l [2]float64) {
	for i := range l {
		a, ok := r.point(p[i])
		b, ok2 := r.point(p[i+2])
		if !ok || !ok2 {
			return 0, l
		}
		l[i] = a.Sub(b).Norm()
	}
	return math.Max(l[0], l[1]), l
}

// tall returns the tallest the body looks, but for outliers: bent or turned away it
// looks shorter. 0 when it was not seen in three frames.
func (s *sizes) tall() float64 {
	for _, x := range s {
		if len(x) >= 3 {
			slices.Sort(x)
			return x[len(x)*9/10]
		}
	}
	return 0
}
