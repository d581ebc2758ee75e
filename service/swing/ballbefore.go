package swing

import (
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
	var far, size []float64
	world := ballInWorld(window, camera)
	for i := range window {
		f := &window[i]
		if f.Camera != camera {
			continue
		}
		at := frameReader{f, world}
		if l := at.bodyLength(); l > 0 {
			size = append(size, l)
		}
		t := float64(f.TimeUS-window[0].TimeUS)*1e-6/w.Slow - contact
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
	if len(far) < 3 || len(size) < 3 {
		return math.NaN()
	}
	slices.Sort(far)
	slices.Sort(size)
	// The tallest the body looks, but for outliers: bent or turned away it looks shorter.
	tall := size[len(size)*9/10]
	return far[len(far)/2] / tall * bodyLength
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

// bodyLength returns trunk + thigh + shank by the longer leg; 0 when they are not all seen.
func (r frameReader) bodyLength() float64 {
	at := [...]body.Point{body.LeftShoulder, body.RightShoulder, body.LeftHip, body.RightHip,
		body.LeftKnee, body.LeftAnkle, body.RightKnee, body.RightAnkle}
	var x [len(at)]geom.Vec3
	for i, p := range at {
		var ok bool
		if x[i], ok = r.point(p); !ok {
			return 0
		}
	}
	leg := math.Max(x[2].Sub(x[4]).Norm()+x[4].Sub(x[5]).Norm(), x[3].Sub(x[6]).Norm()+x[6].Sub(x[7]).Norm())
	return x[0].Lerp(x[1], 0.5).Sub(x[2].Lerp(x[3], 0.5)).Norm() + leg
}
