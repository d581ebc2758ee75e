package swing

import (
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/track"
)

// Job is one swing's window on its way to the settled depth. It is closed: it
// holds the raw frames and all else that the solve reads, and what the solve
// answers, and shares nothing with the machine that handed it out.
type Job interface {
	// Do settles the window: tens of milliseconds of work. It may run on any
	// goroutine, once.
	Do()
}

// job is the Job that a machine hands out.
type job struct {
	window []body.Frame
	guess  Candidate
	setup  Setup
	settle func(window []body.Frame, guess Candidate, setup Setup) (*measure.Sheet, error)
	stated bool     // the factor of slow motion is the client's, and to be checked
	keep   []uint32 // for each camera: the oldest frame that a resumed stream needs to find this swing …
	clock  Clock    // … and what it is to be told of the clock with them

	sheet *measure.Sheet
	err   error
}

// Do settles the window.
func (j *job) Do() {
	if j.stated {
		j.timeStated()
	}
	j.sheet, j.err = j.settle(j.window, j.guess, j.setup)
}

// Settler does jobs for a machine that is not to wait for them.
type Settler interface {
	// Settle sees to it that Do is called. It may wait: that holds the frames.
	Settle(Job)
	// Wait waits until Do has returned. It is false when Do was never called
	// and will not be; the job is then passed over.
	Wait(Job) bool
}

// WarnNotSettled is the code of the warning that comes in the place of a swing
// whose window could not be settled.
const WarnNotSettled = "swing_not_settled"

// handWait is how long after a window was handed out the hand that its swing
// shows is believed, seconds: a solve is over by then, the next ball's swing has
// not begun. A fixed time of the frames' clock, and not the end of the solve, so
// that provisional findings hang on the frames alone.
const handWait = 1.0

// hearing is a job whose swing will tell which hand holds the racket.
type hearing struct {
	job   *job
	dueUS int64
}

// SettleBy has windows settled by s rather than within Push. What s did is
// taken back by TakeBack, in the order in which it was handed out. Swings, their
// order and provisional findings are the same for any s; nil stands for Push
// itself. It is set before the first frame.
func (m *Machine) SettleBy(s Settler) { m.settler = s }

// Unsettled returns how many jobs were handed out and not taken back.
func (m *Machine) Unsettled() int { return len(m.out) }

// TakeBack takes the oldest job back and hands on what it answered. Its Do must
// have returned; Finish does the same with what is left then.
func (m *Machine) TakeBack(to Sink) { m.takeBack(to) }

// deliver has a window measured and sent, its clock checked before. keep is
// what keepNow said while all its frames were still kept, clock what was known of
// the clock then.
func (m *machine) deliver(c Candidate, window []body.Frame, keep []uint32, clock Clock, to Sink) {
	m.seeCourt()
	j := &job{window: window, guess: c, setup: m.setup, settle: m.settle, keep: keep, clock: clock}
	m.timeWindow(j)
	m.out = append(m.out, j)
	if m.live.hand == body.HandUnknown {
		m.heard = append(m.heard, hearing{j, m.cams[m.lead].lastUS + m.det.view.us(handWait)})
	}
	if m.settler != nil {
		m.settler.Settle(j)
		return
	}
	j.Do()
	m.takeBack(to)
}

// seeCourt finds the cameras' poses by the court's marks before the first window is settled: the
// marks are the setup's, so every window would find the same.
func (m *machine) seeCourt() {
	if m.setup.courts == nil && (m.setup.Axes == camera.AxesUnknown || m.setup.Axes == camera.AxesCamera) {
		m.setup.courts = track.SeeCourt(m.setup.Cameras)
	}
}

func (m *machine) takeBack(to Sink) {
	j := m.out[0]
	m.out = m.out[:copy(m.out, m.out[1:])]
	switch {
	case j.err != nil:
		to.Warning(measure.Warning{Code: WarnNotSettled, Text: j.err.Error()})
	case j.sheet != nil:
		to.Swing(j.sheet)
	}
	m.trace.settled(&j.guess, j.sheet, j.err)
	j.window = nil
}

// takeBackAll waits for the jobs that are out and takes them back.
func (m *machine) takeBackAll(to Sink) {
	for len(m.out) > 0 {
		if !m.settler.Wait(m.out[0]) {
			m.out = m.out[:0]
			return
		}
		m.takeBack(to)
	}
}

// hear tells the live depth which hand settled swings show, once they are due.
func (m *machine) hear(now int64) {
	for len(m.heard) > 0 && m.heard[0].dueUS <= now {
		j := m.heard[0].job
		m.heard = m.heard[:copy(m.heard, m.heard[1:])]
		if m.settler == nil || m.settler.Wait(j) {
			m.live.settled(j.sheet)
		}
		if m.live.hand != body.HandUnknown {
			m.heard = nil
		}
	}
}

// keepNow returns the oldest frame that may still matter, for each camera.
func (m *machine) keepNow() []uint32 {
	keep := make([]uint32, len(m.cams))
	for i := range keep {
		keep[i] = m.kept(i)
	}
	return keep
}
