package swing

import (
	"fmt"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// tracer tells what the machine believed and when, one sentence at a time. A
// nil tracer is silent and costs nothing.
type tracer struct {
	say   func(line string)
	start int64 // µs: times are told in seconds from here
	begun bool
}

// Explain has what the live depth believes, and when, told to say: one plain
// sentence a call, times in seconds of the frames' clock from the first frame.
// It is for debugging and changes no finding; nil turns it off.
func (m *Machine) Explain(say func(line string)) {
	m.trace = nil
	if say != nil {
		m.trace = &tracer{say: say}
	}
	m.live.trace = m.trace
}

// tell says one sentence about an instant.
func (t *tracer) tell(atUS int64, format string, args ...any) {
	if t == nil {
		return
	}
	t.say(fmt.Sprintf("%7.3f s  ", t.seconds(atUS)) + fmt.Sprintf(format, args...))
}

// seconds returns a time from the first frame.
func (t *tracer) seconds(us int64) float64 { return float64(us-t.start) * 1e-6 }

// begin notes the first frame's time.
func (t *tracer) begin(us int64) {
	if t != nil && !t.begun {
		t.start, t.begun = us, true
	}
}

// judged tells a verdict.
func (t *tracer) judged(d *detector, v verdict) {
	if t == nil {
		return
	}
	what := "no swing"
	if v.swing {
		what = "a swing"
	}
	t.tell(v.contactUS, "%s: %s (hand %.1f m/s, turn %.0f deg/s, sudden %.2f, wind %.0f, high %.2f, tip %.1f m/s, ball %s (%.1f m/s), burst from %.3f s)",
		what, v.why, v.hand, v.turn, v.sharp, v.wind, v.high, v.tip, v.ball, v.ball.jump, t.seconds(d.b.openUS))
}

// checked tells what the clock of a window is, in the lane of a factor.
func (t *tracer) checked(c *Candidate, factor float64, k camera.SlowMotion) {
	if t == nil {
		return
	}
	how := "unsure"
	switch {
	case k.Verified:
		how = "by gravity"
	case k.TempoOnly:
		how = "by tempo alone"
	}
	t.tell(c.EndUS, "slowed %g times, a swing at %.3f s: its clock is slowed %.2f ± %.2f times, %s", factor, t.seconds(c.ContactUS), k.Factor, k.SD, how)
}

// settled tells what the settled depth made of a window.
func (t *tracer) settled(c *Candidate, s *measure.Sheet, err error) {
	switch {
	case t == nil:
	case err != nil:
		t.tell(c.EndUS, "window of %.3f s … %.3f s not settled: %v", t.seconds(c.StartUS), t.seconds(c.EndUS), err)
	case s == nil:
		t.tell(c.EndUS, "window of %.3f s … %.3f s: nothing in it", t.seconds(c.StartUS), t.seconds(c.EndUS))
	default:
		t.tell(c.EndUS, "settled %s from %.3f s … %.3f s", s.Stroke, t.seconds(c.StartUS), t.seconds(c.EndUS))
	}
}

// names of events as one would say them.
var eventNames = [phase.NumEvents]string{
	"unknown", "split landing", "turn start", "turn complete", "drop start", "forward start", "max lag",
	"racket low", "contact", "follow end", "recovered", "ball release", "trophy",
}

// called tells an announcement.
func (t *tracer) called(nowUS int64, e phase.EventKind, us int64, why string, figure float64) {
	t.tell(nowUS, "call %s at %.3f s: "+why, eventNames[e], t.seconds(us), figure)
}

// withdrawn tells a withdrawal.
func (t *tracer) withdrawn(nowUS int64, e phase.EventKind, why string) {
	t.tell(nowUS, "take back %s: %s", eventNames[e], why)
}

// String returns what the ball told.
func (s strike) String() string {
	switch {
	case s.hit:
		return "hit"
	case s.flying:
		return "flying"
	}
	return "not told"
}
