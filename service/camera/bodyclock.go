package camera

import (
	"math"

	"example.com/courtkin/service/body"
)

// Falls gathers what one camera saw fall: the ball's arcs and the body's hops.
func (l *Location) Falls(frames []body.Frame) []Fall {
	t, hip, left, right := l.Heights(frames)
	return append(BallFalls(frames, &l.Pose, l.Hips), HopFalls(t, hip, left, right)...)
}

// Heights returns, for each placed frame, its time in seconds and the heights over
// the ground of mid-hip and both ankles, metres; NaN where unseen. They come from the
// image at the body's distance.
func (l *Location) Heights(frames []body.Frame) (t, hip, left, right []float64) {
	for k, h := range l.Hips {
		im := &frames[h.Frame].Image
		depth := smoothDepth(l.Hips, k)
		at := func(x, y float64) float64 {
			c := l.Pose.CameraRay(x, y).Scale(depth)
			return l.Gravity.Up.Dot(c.Sub(l.Pose.T))
		}
		one := func(p body.Point) float64 {
			if s := im[p]; s.Score > 0 && finite32(s.X, s.Y) {
				return at(float64(s.X), float64(s.Y))
			}
			return math.NaN()
		}
		y := math.NaN()
		if m, ok := middle2(im, body.LeftHip); ok {
			y = at(m.X, m.Y)
		}
		t, hip = append(t, h.Time), append(hip, y)
		left, right = append(left, one(body.LeftAnkle)), append(right, one(body.RightAnkle))
	}
	return t, hip, left, right
}

// smoothDepth averages the distance about fix k: a player's distance changes slowly,
// a frame's own estimate of it does not.
func smoothDepth(hips []HipFix, k int) float64 {
	sum, n := 0.0, 0.0
	for i := max(0, k-depthSpan); i <= min(len(hips)-1, k+depthSpan); i++ {
		sum, n = sum+hips[i].InCamera.Z, n+1
	}
	return sum / n
}

// depthSpan is the number of placed frames on each side over which a distance is averaged.
const depthSpan = 12

// HandSpeed is the fastest speed of a wrist in a clip, m/s on the clip's clock, as the
// 99th percentile of its speed across the view at the body's distance; 0 without wrists.
// It means something only when the clip holds a swing.
func (l *Location) HandSpeed(frames []body.Frame) float64 {
	if len(l.Hips) == 0 {
		return 0
	}
	seen := paths(frames)
	interval, _ := FrameInterval(frames)
	fastest := 0.0
	depth := quantileDepth(l.Hips)
	for _, p := range []body.Point{body.LeftWrist, body.RightWrist} {
		s := &seen[p]
		var v []float64
		for i, stride := 0, 1+len(s.t)/clockSamples; i < len(s.t); i += stride {
			v = append(v, math.Hypot(s.steadySlope(s.t[i], interval)))
		}
		if q := quantile(v, 0.99) * depth / l.Pose.Focal; q > fastest {
			fastest = q
		}
	}
	return fastest
}

func quantileDepth(h []HipFix) float64 {
	var z []float64
	for _, f := range h {
		z = append(z, f.InCamera.Z)
	}
	return quantile(z, 0.5)
}

// Clock checks a camera's clock by everything that it saw. swings says that the clip
// holds full swings, so that the hands' tempo may count.
func (l *Location) Clock(cam Camera, frames []body.Frame, scaleSD float64, swings bool) SlowMotion {
	interval, _ := FrameInterval(frames)
	var tempo Tempo
	hand := 0.0
	if swings {
		hand = l.HandSpeed(frames)
		tempo = TempoOf(hand)
	}
	k := CheckClock(l.Falls(frames), scaleSD, tempo, cam, interval)
	k.Hand = hand
	return k
}
