package swing

import (
	"fmt"
	"math"

	"example.com/courtkin/service/measure"
)

const (
	// patience is how long a window waits for the frames of other cameras, while the
	// lead's go on for so long (heardFor).
	patience = 6.0

	// pause is what of a gap between two frames of a camera counts as time in which it was
	// heard, seconds: while nobody plays, all cameras may stop for minutes, and then one is
	// the first again.
	pause = 1.0

	// endsApart is how much longer, seconds, a camera goes on than the lead when the
	// lead is taken to have stopped: clocks differ by less (otherClock).
	endsApart = 1.0
)

// heardFor returns for how long, seconds, a camera was heard after an instant: its frames' time
// but for what of gaps is longer than pause. The frames since then must be kept.
func (m *machine) heardFor(camera int, since int64) float64 {
	r, v := m.cams[camera].ring, &m.det.view
	if r.empty() || v.seconds(since, r.last()) <= pause {
		return v.seconds(since, m.cams[camera].lastUS)
	}
	heard, was := 0.0, since
	for k := r.since(since + 1); k < r.next; k++ {
		heard += math.Min(v.seconds(was, r.time(k)), pause)
		was = r.time(k)
	}
	return heard
}

// patienceOver reports whether the lead was heard for so long after an instant that no other
// camera is waited for any more.
func (m *machine) patienceOver(since int64) bool {
	return m.det.view.seconds(since, m.cams[m.lead].lastUS) > patience && m.heardFor(m.lead, since) > patience
}

// silentFor returns for how long, seconds, a camera was heard and the lead was not.
func (m *machine) silentFor(camera int) float64 {
	lead, c := &m.cams[m.lead], &m.cams[camera]
	last := c.firstUS
	if lead.received > 0 {
		last = max(last, lead.lastUS)
	}
	if long := m.det.view.seconds(last, c.lastUS); long <= pause {
		return long
	}
	return m.heardFor(camera, last)
}

// mindLead makes the camera of a frame the lead when the lead has been silent
// for longer than patience.
func (m *machine) mindLead(camera uint8, to Sink) {
	if m.silentFor(int(camera)) <= patience {
		return
	}
	m.warnSilent(m.lead, to)
	m.followCamera(int(camera), to)
}

// followCamera makes another camera the lead, from the oldest frame on that is kept
// of it.
func (m *machine) followCamera(camera int, to Sink) {
	ended := m.ended
	m.ended = true
	m.goOn(m.cams[m.lead].ring.next, to)
	m.ended = ended
	for len(m.pending) > 0 {
		m.settleFirst(to)
	}
	was, began := m.det.from, m.cams[m.lead].firstUS
	m.leadWith(camera)
	r := m.cams[camera].ring
	m.det.from = r.time(r.first)
	if was > began { // it may show what is left of the last swing, too, and its clock be behind
		m.det.from = max(m.det.from, was+m.det.view.us(otherClock))
		m.det.view.low = r.since(m.det.from)
		m.det.sampled = m.det.view.low
	}
	m.catchUp(to)
}

// mindEnd makes another camera the lead at the end of the frames when it has shown
// more than the lead: no patience is left to wait with.
func (m *machine) mindEnd(to Sink) {
	last, most := m.lead, endsApart
	for i := range m.cams {
		if i == m.lead || m.cams[i].received == 0 || m.cams[i].ring.empty() {
			continue
		}
		if long := m.silentFor(i); long > most || last == m.lead && m.cams[m.lead].received == 0 {
			last, most = i, max(most, long)
		}
	}
	if last == m.lead {
		return
	}
	m.warnSilent(m.lead, to)
	m.followCamera(last, to)
}

// catchUp steps through the lead's frames that came before it was the lead, but
// the newest, as if each had just come. What they show is too old for a display.
func (m *machine) catchUp(to Sink) {
	r := m.cams[m.lead].ring
	mute, newest := m.mute, r.next
	m.mute = true
	for k := r.first + 1; k < newest && !m.held.on; k++ {
		r.next = k
		m.step(to)
	}
	r.next, m.mute = newest, mute
	m.live.restart(&m.det, &m.setup)
	m.step(to)
}

// leadWith starts the detector and the live depth afresh on one camera.
func (m *machine) leadWith(camera int) {
	m.lead = camera
	m.past = m.past[:0]
	m.ball = recall{}
	m.heard = nil
	if camera < len(m.setup.Cameras) && m.setup.Cameras[camera].SlowMotion > 0 {
		m.slow = m.setup.Cameras[camera].SlowMotion
	}
	m.det = newDetector(&m.setup, m.cams[camera].ring, m.slow)
	if m.live != nil {
		m.live.restart(&m.det, &m.setup)
	}
}

// warnSilent says once that a camera sends nothing.
func (m *machine) warnSilent(camera int, to Sink) {
	if c := &m.cams[camera]; !c.silent {
		c.silent = true
		to.Warning(measure.Warning{
			Code: "camera_silent",
			Text: fmt.Sprintf("Camera %d sent no frames while others went on; going on without it.", camera),
		})
	}
}
