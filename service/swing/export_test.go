package swing

import (
	"fmt"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/track"
)

// Classify is classify, for tests on made swings.
func Classify(c *track.Course, s Setup) (body.Stroke, body.Hand, float64) {
	return classify(c, s, beside{ballFar: math.NaN(), ballFast: math.NaN()})
}

// FeaturesOf returns a course's features as text.
func FeaturesOf(c *track.Course, h body.Hand) string {
	f, _ := readFor(c, h, beside{ballFar: math.NaN(), ballFast: math.NaN()})
	return f.String()
}

// SettleWith has the machine settle windows by f.
func (m *Machine) SettleWith(f func(window []body.Frame, guess Candidate, setup Setup) (*measure.Sheet, error)) {
	m.settle = f
}

// Unsettled returns a sheet with the guess alone.
var Unsettled = unsettled

// Settle measures one swing.
var Settle = settle

// SampleText is one sample as text.
type SampleText struct {
	At   int64
	Text string
}

// SamplesOf returns what the detector samples.
func SamplesOf(s Setup, frames []body.Frame) (out []SampleText) {
	m, _ := New(s)
	m.settle = unsettled
	for i := range frames {
		if frames[i].Camera != 0 {
			continue
		}
		r := m.cams[0].ring
		r.push(r.put(&frames[i]))
	}
	v := m.det.view
	for k := v.ring.first; k < v.ring.next; k++ {
		x := v.sample(k)
		out = append(out, SampleText{x.timeUS, fmt.Sprintf("ok %v L %.1f R %.1f free %.1f %.1f turn %.0f tip %.1f", x.ok, x.hand[0], x.hand[1], x.free[0], x.free[1], x.turn, x.tip)})
	}
	return out
}

// ExplainLanes has the lanes of an unsettled clock tell what they find, too.
func (m *Machine) ExplainLanes(say func(line string)) {
	if m.lanes == nil {
		return
	}
	for i := 1; i < len(m.lanes.all); i++ {
		f := m.lanes.all[i].factor
		m.lanes.all[i].m.trace = &tracer{say: func(s string) { say(s[:11] + fmt.Sprintf("   (%gx) ", f) + s[11:]) }}
	}
}

// MeanOnly settles by the mean course alone, without an ensemble: stroke, hand
// and CONTACT; a warning of code "features" tells what named it. For surveys.
func MeanOnly(window []body.Frame, guess Candidate, setup Setup) (*measure.Sheet, error) {
	w := trackWindow(window, guess, setup)
	post, err := track.Solve(w)
	if err != nil {
		return nil, err
	}
	s := settling{setup: setup, guess: guess, post: post}
	b := besides(window, w, guess.Camera, post)
	s.name(b)
	f, _ := readFor(post.Mean(), s.hand, b)
	l := f.logOdds()
	return &measure.Sheet{
		ID: guess.ID, StartUS: window[0].TimeUS, Stroke: s.stroke, Hand: s.hand, StrokeConfidence: s.confidence,
		Events: []phase.Event{{Kind: phase.Contact, Time: post.Contact * guess.Slow}},
		Warnings: []measure.Warning{{Code: "features", Text: fmt.Sprintf("%v\n      off %.2f on %.2f other %.1f above %.2f ballIn %.1f | over %.1f tossed %.1f across %.1f two %.1f flat %.1f short %.1f",
			f, f.offHandle, f.onHandle, f.otherSpeed, f.above, f.ballIn, l[0], l[1], l[2], l[3], l[4], l[5])},
			{Code: "row", Text: fmt.Sprintf("high %.3f together %.3f turn %.1f side %.3f lift %.3f wait %.3f rise %.3f back %.3f fall %.3f speed %.2f slope %.1f tipHigh %.2f toss %v racket %v otherSpeed %.2f above %.2f on %.3f off %.3f ballIn %.2f coil %.1f ballFar %.2f ballFast %.2f",
				f.high, f.together, f.turn, f.side, f.lift, f.wait, f.rise, f.back, f.fall, f.speed, f.slope, f.tipHigh, f.toss, f.racket, f.otherSpeed, f.above, f.onHandle, f.offHandle, f.ballIn, f.coil, f.ballFar, f.ballFast)}},
	}, nil
}

// SettledClock is what the machine itself knows of the clock.
func (m *Machine) SettledClock() Clock { return m.settledClock() }

// FallsOf tells what a camera saw fall in a window, and what the clock's check makes of it.
func FallsOf(window []body.Frame, from uint8, s Setup) string {
	var cam camera.Camera
	if int(from) < len(s.Cameras) {
		cam = s.Cameras[from]
	}
	loc, err := camera.Locate(cam, window, camera.Upright(window), cam.View)
	if err != nil {
		loc, err = camera.LocateByStature(cam, window, s.Player.Stature, cam.View)
	}
	if err != nil {
		return " (not located)"
	}
	out := fmt.Sprintf("\n      %+v, hand %.2f m/s", checkClock(window, from, s), loc.HandSpeed(window))
	balls := camera.BallFalls(window, &loc.Pose, loc.Hips)
	for i, f := range loc.Falls(window) {
		what := "ball"
		if i >= len(balls) {
			what = "hop"
		}
		out += fmt.Sprintf("\n      %s: %.4f ± %.4f, scale %.2f, rms %.2f, %d samples, sure %v: factor %.2f", what, f.G, f.SD, f.Scale, f.RMS, f.N, f.Sure, math.Sqrt(9.80665/f.G))
	}
	return out
}
