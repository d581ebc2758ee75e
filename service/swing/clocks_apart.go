package swing

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

// Where a setup says how far the clock of a camera is off, its frames' times are brought to
// the clock of camera 0 as they come in, and nothing behind that need know of it: clocks that
// were told apart by an hour are compared like those of one machine. Of clocks of which nothing
// was said it is known that they are within otherClock of one another.
//
// A window has the frames of other cameras too, and a camera's clock may be up to
// otherClock off the lead's. To wait until every clock has passed the window's end by as much
// hands each swing over as much too late; so the window tells first how far the clocks are
// apart, by what both cameras saw of the swing until otherClock before its end, which a
// camera has sent by the real time of that end whatever its clock says.
//
// The answer hangs on frames of the window alone, by their own times, and not on which of
// them came first: a stream that resumes another finds the same, and no more frames need
// be kept for it.

const (
	// clockSure is the greatest sd, seconds, of an offset that is gone by: half a
	// frame at 60 Hz. Made swings of T have 1–3 ms.
	clockSure = 0.008

	// clockSpare is what is waited for beyond the end, seconds: a frame at 60 Hz, for
	// the other camera's frames lie between the lead's, and for the offset's error.
	clockSpare = 0.025
)

// onOneClock returns a setup whose cameras share the clock of camera 0 where their offsets were
// said, and what is to be added to the times of each, microseconds, to bring them there; nil
// where there is nothing to add.
func onOneClock(s Setup) (Setup, []int64) {
	var ahead []int64
	first := 0.0
	for i := range s.Cameras {
		c := &s.Cameras[i]
		if !c.HasClockOffset {
			continue
		}
		if ahead == nil {
			ahead = make([]int64, len(s.Cameras))
			s.Cameras = slices.Clone(s.Cameras)
			c = &s.Cameras[i]
		}
		if i == 0 {
			first = c.ClockOffset
		}
		ahead[i] = int64(math.Round((c.ClockOffset - first) * 1e6))
		c.ClockOffset = 0
	}
	return s, ahead
}

// aheadOf returns what is added to a camera's times, microseconds.
func (m *machine) aheadOf(camera uint8) int64 {
	if m.ahead == nil {
		return 0
	}
	return m.ahead[camera]
}

// apart is how long another camera's frames count for a window.
type apart struct {
	known bool
	endUS int64            // on its own clock
	fit   *camera.ClockFit // how far that is off the lead's; nil: told, or not found
}

// endOn returns until when, on its own clock, the frames of another camera than the lead
// count for a window; sure is false where that may yet become less.
func (m *machine) endOn(w *Candidate, camera int) (endUS int64, sure bool) {
	v, a := &m.det.view, &w.apart[camera]
	reach := v.us(otherClock)
	c := &m.cams[camera]
	switch {
	case a.known:
	case c.received == 0 || c.lastUS < w.EndUS-reach:
		return w.EndUS + reach, false
	default:
		*a = apart{known: true, endUS: w.EndUS + reach}
		if off, ok := m.offsetIn(w, camera); ok {
			a.endUS = min(a.endUS, w.EndUS-int64(math.Round(off*1e6))+v.us(clockSpare))
		}
	}
	return a.endUS, true
}

// offsetIn returns what is to be added to another camera's times to have the lead's, seconds:
// 0 where it was said, else as a window shows it.
func (m *machine) offsetIn(w *Candidate, other int) (seconds float64, ok bool) {
	cams := m.setup.Cameras
	lead := int(w.Camera)
	if told := func(i int) bool { return cams[i].HasClockOffset || i == 0 }; told(lead) && told(other) {
		return 0, true
	}
	m.seeCourt()
	courts := m.setup.courts
	if m.det.view.slow != 1 || courts == nil || courts[lead].Err != nil || courts[other].Err != nil {
		return 0, false
	}
	reach := m.det.view.us(otherClock)
	frames := [2][]body.Frame{
		m.between(lead, w.StartUS, w.EndUS),
		m.between(other, w.StartUS-reach, w.EndUS-reach),
	}
	fit, err := camera.ClockOffset([2]camera.Pose{courts[lead].Pose, courts[other].Pose}, frames, otherClock)
	if err != nil || fit.SD > clockSure {
		return 0, false
	}
	w.apart[other].fit = &fit
	return fit.Offset, true
}

// clocks returns what a window tells of the clocks, for its solve, which would find the same:
// by camera, of those that are off camera 0's.
func (w *Candidate) clocks() []*camera.ClockFit {
	if w.Camera != 0 {
		return nil
	}
	fits := make([]*camera.ClockFit, maxCameras)
	for i := range fits {
		fits[i] = w.apart[i].fit
	}
	return fits
}

// between returns a camera's frames from one time to another, both on its clock.
func (m *machine) between(camera int, fromUS, toUS int64) []body.Frame {
	r := m.cams[camera].ring
	from := r.since(fromUS)
	frames := make([]body.Frame, max(r.since(toUS+1), from)-from)
	for i := range frames {
		r.frame(from+uint64(i), uint8(camera), &frames[i])
	}
	return frames
}
