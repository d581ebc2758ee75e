package camera

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// swinger is a figure that stands, turns and swings a racket once, in court axes:
// enough of a body to test cameras with, and no more.
type swinger struct {
	at      geom.Vec3 // between the feet
	stature float64
	heading float64 // radians, about Y
	contact float64 // seconds
	speed   float64 // turns the arm, rad/s at the fastest
	toss    float64 // seconds; when a tossing left hand moves up fastest
	tossV   float64 // m/s
}

// pose gives every point at time t.
func (s swinger) pose(t float64) (out [body.NumPoints]geom.Vec3) {
	h := s.stature
	u := (t - s.contact) / 0.12
	turn := -1.2 + 2.4/(1+math.Exp(-u*1.5)) // trunk, radians
	arm := -1.9 + 3.4/(1+math.Exp(-u*2.2*s.speed/25))
	bob := 0.03 * math.Sin(2*math.Pi*1.3*t)
	put := func(p body.Point, x, y, z, yaw float64) {
		sin, cos := math.Sincos(s.heading + yaw)
		out[p] = s.at.Add(geom.Vec3{X: h * (x*cos + z*sin), Y: h*y + bob*min(1, y*3), Z: h * (z*cos - x*sin)})
	}
	for _, side := range []float64{-1, 1} {
		k := body.Point(0)
		if side > 0 {
			k = 1
		}
		put(body.LeftAnkle+k, 0, 0.039, side*0.12, 0)
		put(body.LeftHeel+k, -0.04, 0.01, side*0.12, 0)
		put(body.LeftToe+k, 0.10, 0.01, side*0.13, 0)
		put(body.LeftKnee+k, 0.04, 0.28, side*0.09, turn*0.1)
		put(body.LeftHip+k, 0, 0.52, side*0.058, turn*0.5)
		put(body.LeftShoulder+k, 0.02, 0.81, side*0.107, turn)
		put(body.LeftEar+k, 0.01, 0.93, side*0.043, turn*0.2)
		put(body.LeftElbow+k, 0.03, 0.64, side*0.15, turn)
		put(body.LeftWrist+k, 0.14, 0.60, side*0.14, turn)
	}
	if s.tossV > 0 {
		lift := s.tossV * 0.12 * math.Sqrt(math.Pi) / 2 * math.Erf((t-s.toss)/0.12)
		out[body.LeftWrist].Y += lift
		out[body.LeftElbow].Y += lift / 2
	}
	put(body.Nose, 0.07, 0.92, 0, turn*0.2)
	rise := 0.62 + 0.12*arm
	put(body.RightElbow, 0.05, 0.62, 0.20, arm*0.8)
	put(body.RightWrist, 0.10, rise, 0.30, arm)
	put(body.RacketButt, 0.09, rise, 0.26, arm)
	put(body.RacketThroat, 0.15, rise+0.03, 0.44, arm*1.1)
	put(body.RacketTip, 0.20, rise+0.06, 0.62, arm*1.1)
	b := t - s.contact
	out[body.Ball] = s.at.Add(geom.Vec3{X: 0.6 + 18*math.Abs(b), Y: 1 - 4.9*b*b + 2*max(0, b), Z: 0.8 - 0.5*b})
	return out
}

// film shows a figure to a camera from from to to seconds at rate Hz, with noise
// in pixels; clock is what the camera's clock shows less the true time.
func (s swinger) film(p *Pose, cam uint8, from, to, rate, clock, noise float64, r *rand.Rand) []body.Frame {
	var out []body.Frame
	phase := r.Float64() / rate
	for i := 0; ; i++ {
		t := from + phase + float64(i)/rate + 0.001*r.NormFloat64()*0.5
		if t > to {
			return out
		}
		f := body.Frame{Index: uint32(i), TimeUS: int64((t+clock)*1e6 + 0.5), Camera: cam}
		for k, w := range s.pose(t) {
			x, y, ok := p.Project(w)
			if w == (geom.Vec3{}) || !ok || r.Float64() < 0.05 {
				continue
			}
			n := noise
			if r.Float64() < 0.005 {
				n *= 30
			}
			f.Image[k] = body.Seen2{X: float32(x + n*r.NormFloat64()), Y: float32(y + n*r.NormFloat64()), Score: 0.9}
		}
		out = append(out, f)
	}
}

func randomSwinger(r *rand.Rand) swinger {
	return swinger{geom.Vec3{X: -1 + 2*r.Float64(), Z: -2 + 4*r.Float64()}, 1.4 + 0.5*r.Float64(),
		r.NormFloat64() * 0.5, 1.5, 18 + 15*r.Float64(), 0, 0}
}
