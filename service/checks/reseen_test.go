package checks

import (
	"math"
	"math/rand/v2"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/swing"
)

// condition is a way in which recorded strokes are seen again. Noise, losses and
// rates are those of the accuracy goals; nobody recorded a racket or a ball.
type condition struct {
	name    string
	what    string
	rate    float64 // Hz
	cameras int
	pixels  float64 // noise, px
	across  float64 // noise of world points, m; across the view
	depth   float64 // along it
	marks   bool
}

var conditions = []condition{
	{"W", "3-D in court axes, 120 Hz, 5 mm of noise", 120, 0, 0, .005, .005, true},
	{"T", "two cameras, 60 Hz, court marks ± 1 px, clocks apart, 1.5 px", 60, 2, 1.5, 0, 0, true},
	{"P", "one phone, 60 Hz, 2 px, world points 25 and 45 mm in its own axes", 60, 1, 2, .025, .045, false},
	{"I", "one camera, 60 Hz, court marks ± 1 px, 2 px, no world points", 60, 1, 2, 0, 0, true},
}

// Faults in all conditions (accuracy goals).
const (
	lost     = .05  // chance of a point's loss
	gross    = .005 // chance of a gross outlier
	swapped  = .005 // chance of a frame with left and right swapped
	jitterUS = 1000 // ± µs
)

// stage is a recording stood on a court: X is where the machine took the direction of
// play to be, Y = 0 the ground, the player at the baseline or, for volleys and
// smashes, half way to the net.
type stage struct {
	*recording
	turn geom.Mat3
	move geom.Vec3
}

// staged stands a recording on the court, X along heading (a direction in its own axes).
func (r *recording) staged(heading geom.Vec3) stage {
	s := stage{recording: r, turn: geom.RotationAbout(geom.Vec3{Y: 1}, geom.Angle(math.Atan2(heading.Z, heading.X)))}
	var low []float64
	for _, p := range r.places {
		low = append(low, math.Min(p[body.LeftAnkle].Y, p[body.RightAnkle].Y))
	}
	slices.Sort(low)
	mid := s.turn.Apply(r.places[0][body.LeftHip].Lerp(r.places[0][body.RightHip], .5))
	s.move = geom.Vec3{X: -mid.X, Y: .07 - low[len(low)/10], Z: -mid.Z} // ankles stand at .039 of 1.8 m
	if r.stroke().Volley() || r.stroke() == body.Overhead {
		s.move.X += 7
	}
	return s
}

func (s stage) onCourt(v geom.Vec3) geom.Vec3 { return s.turn.Apply(v).Add(s.move) }

// exact is the recording in court axes as it is.
func (s stage) exact() []body.Frame { return s.frames(0, s.onCourt, samePoint) }

// eye is a camera at a place, looking at another.
func eye(from, to geom.Vec3, focal float64) *camera.Pose {
	z := to.Sub(from).Unit()
	x := z.Cross(geom.Vec3{Y: 1}).Unit()
	r := geom.Rows(x, z.Cross(x), z)
	return &camera.Pose{R: r, T: r.Apply(from).Scale(-1), Focal: focal, CX: 960, CY: 540}
}

// inside reports whether a pixel is in the image.
func inside(x, y float64) bool { return x >= 0 && x < 1920 && y >= 0 && y < 1080 }

// marksOf are the court marks in a camera's image, ± 1 px.
func marksOf(p *camera.Pose, rng *rand.Rand) (seen []camera.MarkedPoint) {
	for m := camera.Mark(1); m <= camera.NumMarks; m++ {
		w, _ := m.Point()
		if x, y, ok := p.Project(w); ok && inside(x, y) {
			seen = append(seen, camera.MarkedPoint{Mark: m, X: x + rng.NormFloat64(), Y: y + rng.NormFloat64()})
		}
	}
	return seen
}

// azimuths of the four viewpoints from the player, in the order of the wire's:
// behind is −X.
var azimuths = [5]float64{0, 180, 0, 90, -90}

// stand places a camera at an azimuth (degrees from X toward Z) so that it sees the
// whole player; with marks it tries until six are in the image.
func (s stage) stand(azimuth, spread float64, marks bool, rng *rand.Rand) *camera.Pose {
	target := s.onCourt(s.at(s.about.Ref.At)[body.LeftHip])
	target.Y = 1.1
	if s.stroke().OverheadMotion() {
		target.Y = 1.4
	}
	var best *camera.Pose
	most := -1
	for range 60 {
		az := (azimuth + spread*(2*rng.Float64()-1)) * math.Pi / 180
		far, focal := 5+6*rng.Float64(), 1350+400*rng.Float64()
		at := target.Add(geom.Vec3{X: far * math.Cos(az), Z: far * math.Sin(az)})
		at.Y = 1 + 2*rng.Float64()
		p := eye(at, target, focal)
		n := len(marksOf(p, rng))
		if !marks || n >= 6 {
			return p
		}
		if n > most {
			best, most = p, n
		}
	}
	return best
}

// shot is a recording seen again: what is said of it and its frames.
type shot struct {
	setup  swing.Setup
	frames []body.Frame
	eyes   []*camera.Pose
}

// seenAgain films a staged recording under a condition.
func (s stage) seenAgain(c condition, seed uint64) shot {
	rng := rand.New(rand.NewPCG(seed, uint64(c.name[0])))
	out := shot{setup: swing.Setup{Trace: true, Axes: camera.AxesCourt}}
	if c.cameras == 0 {
		out.frames = s.film(c, nil, 0, 0, rng)
		return out
	}
	out.setup.Axes = camera.AxesUnknown
	if !c.marks {
		out.setup.Axes = camera.AxesCamera
	}
	view := 1 + rng.IntN(4)
	azimuth := azimuths[view]
	for k := range c.cameras {
		if k > 0 {
			azimuth += 90
		}
		p := s.stand(azimuth, 25, c.marks, rng)
		cam := camera.Camera{Width: 1920, Height: 1080, SlowMotion: 1}
		if c.marks {
			cam.Marks = marksOf(p, rng)
		} else {
			cam.View = camera.Viewpoint(view)
		}
		offset := 0.
		if k > 0 {
			offset = .4*rng.Float64() - .2
		}
		out.setup.Cameras = append(out.setup.Cameras, cam)
		out.eyes = append(out.eyes, p)
		out.frames = append(out.frames, s.film(c, p, uint8(k), offset, rng)...)
	}
	slices.SortStableFunc(out.frames, func(a, b body.Frame) int { return int(a.TimeUS - b.TimeUS) })
	return out
}

// film takes one camera's frames, or world points alone when there is none.
func (s stage) film(c condition, eye *camera.Pose, index uint8, offset float64, rng *rand.Rand) (out []body.Frame) {
	from := s.times[0] + rng.Float64()/c.rate
	last := s.times[len(s.times)-1]
	for k := 0; ; k++ {
		t := from + float64(k)/c.rate
		if t > last {
			return out
		}
		f := body.Frame{Index: uint32(k), Camera: index}
		f.TimeUS = int64(math.Round((t+offset)*1e6)) + 1_000_000 + int64(jitterUS*(2*rng.Float64()-1))
		places := s.recording.at(t)
		hips := s.onCourt(places[body.LeftHip].Lerp(places[body.RightHip], .5))
		for p, ok := range s.has {
			if ok && rng.Float64() > lost {
				see(&f, body.Point(p), s.onCourt(places[p]), hips, c, eye, rng)
			}
		}
		if rng.Float64() < swapped {
			for p := range body.NumBody {
				if q := body.Point(p).Twin(); q > body.Point(p) {
					f.Image[p], f.Image[q] = f.Image[q], f.Image[p]
					f.World[p], f.World[q] = f.World[q], f.World[p]
				}
			}
		}
		out = append(out, f)
	}
}

// see puts one point into a frame.
func see(f *body.Frame, p body.Point, at, hips geom.Vec3, c condition, eye *camera.Pose, rng *rand.Rand) {
	score := float32(min(max(.8+.1*rng.NormFloat64(), .2), 1))
	wild := 0.
	if rng.Float64() < gross {
		wild = 1
	}
	if c.across > 0 {
		w := at
		if eye != nil {
			w = eye.R.Apply(at.Sub(hips))
		}
		n := geom.Vec3{X: c.across * rng.NormFloat64(), Y: c.across * rng.NormFloat64(), Z: c.depth * rng.NormFloat64()}
		w = w.Add(n).Add(someVec(rng).Unit().Scale(.5 * wild))
		f.World[p] = seen3(w)
		f.World[p].Score = score
	}
	if eye == nil {
		return
	}
	if x, y, ok := eye.Project(at); ok {
		d := someVec(rng).Unit().Scale(80 * wild)
		f.Image[p] = body.Seen2{X: float32(x + c.pixels*rng.NormFloat64() + d.X), Y: float32(y + c.pixels*rng.NormFloat64() + d.Y), Score: score}
	}
}
