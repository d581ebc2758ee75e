package camera

import (
	"math"
	"slices"
	"sort"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/signal"
)

// path is one image point of one camera through time.
type path struct {
	t    []float64 // seconds, rising
	x, y []float64 // pixels
}

// paths takes the image points apart by name. Times are seconds on the camera's own clock.
func paths(frames []body.Frame) *[body.NumPoints]path {
	var out [body.NumPoints]path
	for i := range frames {
		f := &frames[i]
		for k, p := range f.Image {
			if p.Score > 0 && finite32(p.X, p.Y) {
				if out[k].t == nil {
					out[k].grow(len(frames))
				}
				out[k].add(float64(f.TimeUS)*1e-6, float64(p.X), float64(p.Y))
			}
		}
	}
	return &out
}

// grow makes room for n samples.
func (p *path) grow(n int) {
	p.t, p.x, p.y = make([]float64, 0, n), make([]float64, 0, n), make([]float64, 0, n)
}

func (p *path) add(t, x, y float64) {
	p.t, p.x, p.y = append(p.t, t), append(p.x, x), append(p.y, y)
}

func finite32(v ...float32) bool {
	for _, x := range v {
		if math.IsNaN(float64(x)) || math.IsInf(float64(x), 0) {
			return false
		}
	}
	return true
}

// between returns the point at time t by interpolation: a cubic through the two
// samples on each side, a line at a gap's edge. gain is the sum of the squared
// weights: the variance of the value in units of a sample's. It is false where
// the next samples are more than gap seconds apart.
func (p *path) between(t, gap float64) (x, y, gain float64, ok bool) {
	x, y, gain, _, ok = p.near(sort.SearchFloat64s(p.t, t), t, gap)
	return x, y, gain, ok
}

// near is between for a time near sample j; it returns the first sample that is not
// before t, to go on from.
func (p *path) near(j int, t, gap float64) (x, y, gain float64, at int, ok bool) {
	for j < len(p.t) && p.t[j] < t {
		j++
	}
	for j > 0 && p.t[j-1] >= t {
		j--
	}
	if j == 0 || j >= len(p.t) || p.t[j]-p.t[j-1] > gap {
		return 0, 0, 0, j, false
	}
	b, c := t-p.t[j-1], t-p.t[j]
	if j < 2 || j+1 >= len(p.t) || p.t[j-1]-p.t[j-2] > gap || p.t[j+1]-p.t[j] > gap {
		w := b / (b - c)
		return p.x[j-1] + w*(p.x[j]-p.x[j-1]), p.y[j-1] + w*(p.y[j]-p.y[j-1]), w*w + (1-w)*(1-w), j, true
	}
	a, d := t-p.t[j-2], t-p.t[j+1]
	w0 := b * c * d / ((b - a) * (c - a) * (d - a)) // t_i − t_k is (t − t_k) − (t − t_i)
	w1 := a * c * d / ((a - b) * (c - b) * (d - b))
	w2 := a * b * d / ((a - c) * (b - c) * (d - c))
	w3 := a * b * c / ((a - d) * (b - d) * (c - d))
	px, py := (*[4]float64)(p.x[j-2:]), (*[4]float64)(p.y[j-2:])
	return w0*px[0] + w1*px[1] + w2*px[2] + w3*px[3], w0*py[0] + w1*py[1] + w2*py[2] + w3*py[3],
		w0*w0 + w1*w1 + w2*w2 + w3*w3, j, true
}

// directions returns the path of the directions x/z, y/z in which a camera sees the point.
func (p *path) directions(eye *Pose) *path {
	out := &path{t: p.t, x: make([]float64, len(p.t)), y: make([]float64, len(p.t))}
	for i := range p.t {
		c := eye.CameraRay(p.x[i], p.y[i])
		out.x[i], out.y[i] = c.X, c.Y
	}
	return out
}

// slopeSpan is the time, seconds, over which a motion's speed is taken: long
// enough that pixel noise matters little, short against a swing.
const slopeSpan = 0.09

// slope returns the speed about time t, pixels a second, as the median over
// pairs of samples half a span apart; zero where samples are lacking.
func (p *path) slope(t float64) (vx, vy float64) { return p.slopeIn(t-slopeSpan/2, t+slopeSpan/2) }

// steadySlope is slope over at least six of a camera's frame intervals, which a wrong
// sample cannot sway.
func (p *path) steadySlope(t, interval float64) (vx, vy float64) {
	h := max(slopeSpan, 6.2*interval) / 2
	return p.slopeIn(t-h, t+h)
}

// slopeIn is slope over [from, to].
func (p *path) slopeIn(from, to float64) (vx, vy float64) {
	lo, hi := sort.SearchFloat64s(p.t, from), sort.SearchFloat64s(p.t, to)
	var bx, by [16]float64
	half := (hi - lo) / 2
	sx, sy := bx[:0], by[:0]
	for i := lo; half > 0 && i+half < hi && len(sx) < len(bx); i += 1 + (hi-lo-half)/len(bx) {
		dt := p.t[i+half] - p.t[i]
		sx = append(sx, (p.x[i+half]-p.x[i])/dt)
		sy = append(sy, (p.y[i+half]-p.y[i])/dt)
	}
	if len(sx) == 0 {
		return 0, 0
	}
	slices.Sort(sx)
	slices.Sort(sy)
	return sx[len(sx)/2], sy[len(sy)/2]
}

// FrameInterval returns the median time between a camera's successive frames,
// seconds, and the robust sd of one interval; NaN below two frames. Frames must
// be those of one camera.
func FrameInterval(frames []body.Frame) (interval, sd float64) {
	d := make([]float64, 0, len(frames))
	for i := 1; i < len(frames); i++ {
		if dt := float64(frames[i].TimeUS-frames[i-1].TimeUS) * 1e-6; dt > 0 {
			d = append(d, dt)
		}
	}
	return signal.Median(d), signal.MAD(d)
}
