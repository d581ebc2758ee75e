package check

import (
	"context"
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/signal"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

func near(got, want, tol float64) bool { return math.Abs(got-want) <= tol }

// stand is a placement to be made: cameras about a player of 1.75 m who stands at
// the middle of the baseline with racket and ball.
type stand struct {
	angles   []float64 // of each camera, degrees: 0 behind, 90 at the right, 180 in front
	far      float64   // m
	high     float64   // m
	pixels   float64   // noise
	depth    float64   // noise of world points' depth, m; across half of it; 0: none
	rate     float64   // Hz
	noMarks  bool
	noRacket bool
	stroke   body.Stroke
}

const standingFocal = 1500.0 // px, at 1920 × 1080

// request films the player for a second, standing, by the same films that the check
// uses, as an estimator with the given faults would see him.
func (s stand) request(t *testing.T) *Request {
	t.Helper()
	r := &Request{Layout: body.COCO17, Setup: swing.Setup{
		Player: body.Player{Hand: body.RightHanded, Stature: 1.75}, Expected: s.stroke,
	}}
	if s.depth > 0 {
		r.Setup.Axes = camera.AxesCamera
	}
	sc := scene{stature: 1.75, slow: 1, court: true}
	for i, a := range s.angles {
		sc.eyes = append(sc.eyes, s.eye(uint8(i), a))
		e := &sc.eyes[i]
		cam := camera.Camera{Width: 1920, Height: 1080, Focal: standingFocal, CaptureRate: s.rate, SlowMotion: 1, HasClockOffset: i > 0}
		if !s.noMarks {
			cam.Marks = e.visibleMarks(seedOf(7, uint8(i)))
			if len(cam.Marks) < 5 {
				t.Fatalf("camera at %v° sees %d marks", a, len(cam.Marks))
			}
		}
		r.Setup.Cameras = append(r.Setup.Cameras, cam)
	}
	m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Seed: 5, Hand: body.RightHanded, Stature: 1.75, Level: body.Intermediate})
	end := int64(epoch + 1e6*(m.Struck[0].Contact-m.Start-0.8))
	for _, f := range sc.film(m, 9) {
		if f.TimeUS > end-1_000_000 && f.TimeUS <= end {
			if n := len(r.Frames); !s.noRacket && n%10 < len(s.angles) {
				f.Image[body.Ball] = body.Seen2{X: 900 + float32(n), Y: 300, Score: 0.9} // a ball crosses the picture
			}
			r.Frames = append(r.Frames, f)
		}
	}
	return r
}

// eye is a camera at an angle, aimed at the player's middle.
func (s stand) eye(index uint8, angle float64) eye {
	yaw := math.Pi - angle*math.Pi/180
	sin, cos := math.Sincos(yaw)
	p := aimed(&camera.Pose{Focal: standingFocal, CX: 960, CY: 540}, geom.Vec3{X: s.far * cos, Y: s.high, Z: s.far * sin}, geom.Vec3{Y: 1.1})
	e := eye{pose: &p, width: 1920, height: 1080}
	e.camera, e.rate = index, s.rate
	for _, k := range body.COCO17 {
		if k < body.NumPoints {
			e.imaged[k], e.placed[k] = true, s.depth > 0
		}
	}
	for k := body.RacketTip; k < body.NumPoints && !s.noRacket; k++ {
		e.imaged[k] = true
	}
	n := signal.Noise{White: s.pixels}
	e.faults = faults{image: n, imageRacket: n, across: signal.Noise{White: s.depth / 2}, depth: signal.Noise{White: s.depth}, lost: 0.05, lostRacket: 0.05}
	return e
}

// outlook is the outlook of a placement.
func (s stand) outlook(t *testing.T) *Outlook {
	t.Helper()
	return outlook(t, s.request(t))
}

func outlook(t *testing.T, r *Request) *Outlook {
	t.Helper()
	o, err := Foretell(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// sd is a figure's error; the refusal counts as infinite.
func (o *Outlook) sd(name string) float64 {
	i, _ := measure.Index(name)
	if f := o.Figures[i]; f.Known() {
		return f.SD
	}
	return math.Inf(1)
}

// grade is a figure's grade.
func (o *Outlook) grade(name string) measure.Grade {
	i, _ := measure.Index(name)
	return o.Figures[i].Grade
}

// phone is one camera at an angle with an estimator's world points, no marks.
func phone(angle float64) stand {
	return stand{angles: []float64{angle}, far: 7, high: 1.6, pixels: 2, depth: 0.045, rate: 60, noMarks: true, stroke: body.Forehand}
}

// pair is two cameras a quarter turn apart that see the court's marks.
func pair(pixels float64) stand {
	return stand{angles: []float64{45, -45}, far: 9, high: 2.4, pixels: pixels, rate: 60, stroke: body.Forehand}
}
