package swing

import (
	"cmp"
	"slices"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
)

const (
	// quietBack is what a quiet stream keeps, real seconds: a window's reach
	// back before contact and what the samples of that time read.
	quietBack = lookBack + 2*fitReach

	// otherClock is how far apart the clocks of two cameras may be, seconds.
	otherClock = 0.3

	// tellEvery is how often progress is told, microseconds of the frames' clock.
	tellEvery = 500_000
)

// feed is the state of one camera.
type feed struct {
	ring      *ring
	received  uint32
	firstUS   int64
	lastUS    int64
	lastIndex uint32
	silent    bool
	toldUS    int64
	told      bool
	toldKeep  uint32 // the last that was told to be needed still
	cell      int64  // µs of the frames' clock: the first frame of each cell is kept; 0: every frame is
}

// stretch is the time of a burst that came to nothing: a resumed stream must
// start before or after it, not inside.
type stretch struct {
	from, to int64
	recalled bool // it was refused for what was remembered (recall.go)
}

// maxStretches bounds them; a burst lasts 0.3 s or longer, so twice as many
// never fit into the time that is kept.
const maxStretches = 16

// machine is what a Machine holds.
type machine struct {
	setup   Setup             // its clock offsets taken out: they are in the frames' times
	ahead   []int64           // µs, by camera: what is added to its times to have camera 0's, as far as was said
	slow    float64           // clip seconds per real second
	mute    bool              // no live depth
	said    []said            // contacts announced while the factor was open: of conclude
	again   bool              // frames are gone over again: what is found has its contact called
	rival   bool              // a lane but the first: its rows belong to the first
	lanes   *lanes            // nil: the factor is settled
	clock   camera.SlowMotion // how the factor was settled
	doubt   bool              // it is not
	cams    []feed
	lead    int
	det     detector
	live    *live // nil of a rival, which shows nothing
	past    []stretch
	ball    recall
	held    hold
	ended   bool // no more frames come
	pending []Candidate
	trace   *tracer

	settler Settler // nil: Push settles
	out     []*job  // handed out and not taken back, oldest first
	heard   []hearing

	settle func(window []body.Frame, guess Candidate, setup Setup) (*measure.Sheet, error) // the settled depth
}

// begin makes the machine ready for its first frame.
func (m *machine) begin() {
	m.cams = make([]feed, max(1, len(m.setup.Cameras)))
	for i := range m.cams {
		m.cams[i].ring = newRing(newRows(m.setup.unsettledClock()))
	}
	m.leadWith(0)
}

// Push takes one frame. Times must rise for each camera; an error says what is
// unfit about the frame, and the machine is then as it was before the call.
func (m *Machine) Push(f *body.Frame, to Sink) error {
	if err := m.checkFrame(f); err != nil {
		return err
	}
	rows := m.cams[f.Camera].ring.rows
	row := rows.put(f)
	rows.times[row] += m.aheadOf(f.Camera)
	m.take(f.Camera, row, m.speakTo(to))
	if m.lanes != nil {
		m.lanes.push(row)
		m.lanes.said.tend()
		m.conclude(to)
	}
	rows.drop(row)
	m.tell(f.Camera, to)
	return nil
}

// take moves on by a frame that is fit and whose points are stored.
func (m *machine) take(camera uint8, row uint32, to Sink) {
	c := &m.cams[camera]
	first, was, now := c.received == 0, c.lastUS, c.ring.times[row]
	if first {
		c.firstUS = now
	}
	c.received++
	c.lastUS, c.lastIndex = now, c.ring.indices[row]
	c.silent = false
	if !first && c.cell > 0 && cellOf(now, c.cell) == cellOf(was, c.cell) {
		return
	}
	c.ring.push(row)
	if int(camera) == m.lead {
		m.step(to)
	} else {
		m.mindLead(camera, to)
		m.goOn(m.cams[m.lead].ring.next, to)
	}
	m.settleDue(to)
}

// cellOf returns which cell of the frames' clock a time lies in. What a thinned
// stream keeps hangs on the frame and the one before it alone, so that a resumed
// stream keeps the same.
func cellOf(us, cell int64) int64 {
	n := us / cell
	if us%cell < 0 {
		n--
	}
	return n
}

// Finish settles what is open.
func (m *Machine) Finish(to Sink) {
	if l := m.lanes; l != nil {
		for i := range l.all {
			l.all[i].m.settleAll(m.speakTo(to))
		}
		l.end()
		m.conclude(to)
	}
	m.ended = true
	m.goOn(m.cams[m.lead].ring.next, to)
	m.mindEnd(to)
	m.settleAll(to)
	m.takeBackAll(to)
	m.live.finish(to)
	for i := range m.cams {
		if m.cams[i].received > 0 {
			to.Progress(Progress{uint8(i), m.cams[i].received, m.keepIndex(i), m.tellClock()})
		}
	}
}

// settleAll settles what is open: no more frames come.
func (m *machine) settleAll(to Sink) {
	d := &m.det
	if d.b.on && !m.cams[m.lead].ring.empty() {
		m.close(min(m.cams[m.lead].lastUS, d.b.peakUS+d.view.us(thresholds.longest)), to)
	}
	for len(m.pending) > 0 {
		m.settleFirst(to)
	}
}

// step moves the live depth and the detector on by the newest frame of the lead.
func (m *machine) step(to Sink) {
	r := m.cams[m.lead].ring
	now := r.last()
	m.trace.begin(now)
	if m.cams[m.lead].received == 1 {
		m.det.from = now
	}
	m.hear(now)
	if !m.mute {
		m.live.open, m.live.lanes = m.lanes != nil, m.lanes
		m.live.step(to)
	}
	if !m.goOn(r.next-1, to) {
		return
	}
	m.sampleUntil(now)
	if !m.mute {
		m.live.hearEarly(to)
		m.live.hearBurst(m.judgeOpen, to)
	}
	if m.endBursts(now, to) {
		m.forget(now)
	}
}

// endBursts closes the bursts that are over. It is false where the frames after one have
// to wait for what other cameras say of it.
func (m *machine) endBursts(now int64, to Sink) bool {
	for {
		end, over := m.det.due(now)
		if !over {
			return true
		}
		if m.holds(end) {
			return false
		}
		waited, peak := m.det.bodyAlone() || m.det.rivalWait() > 0, m.det.b.peakUS
		swing, later := m.close(end, to)
		if waited = waited || later; waited && !swing {
			end = min(end, peak+m.det.view.us(sameBurst)) // a take-back's end may be its stroke's
		}
		if waited && end < now {
			if m.rewind(end, to); m.held.on {
				return false
			}
		}
	}
}

// rewind steps anew through the frames after a burst that had waited for rivals: what it
// outdid while it waited may be a swing of its own.
func (m *machine) rewind(endUS int64, to Sink) {
	d, r := &m.det, m.cams[m.lead].ring
	from := max(r.since(endUS+1), r.first)
	for len(d.trail) > 0 && d.trail[len(d.trail)-1].timeUS > endUS {
		d.trail = d.trail[:len(d.trail)-1]
	}
	d.raws, d.sampled = 0, from
	mute, called, newest := m.mute, m.again, r.next
	m.mute, m.again = true, called || !mute // what is found is too old for the live filters: its contact is called as it is
	for k := from + 1; k < newest && !m.held.on; k++ {
		r.next = k
		m.step(to)
	}
	r.next, m.mute, m.again = newest, mute, called
	if !m.held.on {
		m.sampleUntil(r.last())
	}
}

// sampleUntil samples the frames that have all their neighbours by now.
func (m *machine) sampleUntil(now int64) {
	d, r := &m.det, m.cams[m.lead].ring
	d.sampled = max(d.sampled, r.first)
	for d.sampled < r.next && d.complete(d.sampled, now) {
		d.sample(d.view.sample(d.sampled))
		d.sampled++
	}
}

// complete reports whether a frame's fits would not change with frames to come.
func (d *detector) complete(place uint64, now int64) bool {
	r := d.view.ring
	reach := trunkHalf
	if place+2 >= r.next || d.view.seconds(r.time(place), r.time(place+2)) > trunkHalf {
		reach = fitReach
	}
	return d.view.seconds(r.time(place), now) > reach
}

// close ends the burst: a swing goes to the settled depth, the rest is noted. It reports
// whether there was a swing, and if not, whether it was seen to come later.
func (m *machine) close(endUS int64, to Sink) (swing, later bool) {
	d := &m.det
	j, recalled := m.judgeOpen()
	later = m.hearWitnesses(&j, endUS)
	m.trace.judged(d, j)
	if j.swing {
		c := m.candidate(&j, endUS)
		m.pending = append(m.pending, c)
		if m.lanes != nil {
			m.lanes.laneOf(m).span(append(m.past, stretch{from: c.StartUS, to: endUS})...)
		}
		m.past = m.past[:0]
		m.remember(&c)
		if !m.mute {
			m.live.found(&j, to)
		} else if m.again {
			m.callFound(&c, to)
		}
	} else {
		until := endUS
		if d.told.on { // a stream that begins in between would not be told
			until = max(until, d.told.us+d.view.us(witnessNear))
		}
		m.note(stretch{d.b.openUS - d.view.us(thresholds.lead+fitReach), until, recalled})
		if !m.mute {
			m.live.refused(&j, to)
		}
	}
	m.restart(endUS, j.swing)
	return j.swing, later
}

// restart makes the detector ready for the next burst. After a swing it is as
// if the stream began just after the swing's window: no frame before is read.
func (m *machine) restart(endUS int64, swing bool) {
	d := &m.det
	d.b = burst{}
	if swing {
		d.trail, d.raws = d.trail[:0], 0
		d.from, d.told = endUS+1, foretold{}
		d.view.low = d.view.ring.since(d.from)
		d.sampled = max(d.sampled, d.view.low)
	}
}

// candidate makes the window of a swing.
func (m *machine) candidate(j *verdict, endUS int64) Candidate {
	d := &m.det
	first, last := m.person(d.view.ring, j.contactUS, wallNear)
	ball := 0.0
	if j.ball.hit {
		ball = j.ball.jump
	}
	c := Candidate{
		ID:        m.name(j.contactUS),
		Camera:    uint8(m.lead),
		ContactUS: j.contactUS,
		StartUS:   max(d.from, j.contactUS-d.view.us(lookBack), first),
		EndUS:     min(endUS, last),
		Slow:      d.view.slow,
		hand:      j.hand,
		ball:      ball,
		keepUS:    m.keepUS(m.cams[m.lead].lastUS),
	}
	if m.recalledSince(c.keepUS) {
		c.keep = m.ball.keep
	}
	return c
}

// note remembers a burst that came to nothing.
func (m *machine) note(s stretch) {
	if len(m.past) == maxStretches {
		last := &m.past[len(m.past)-1]
		last.to, last.recalled = s.to, last.recalled || s.recalled
		return
	}
	m.past = append(m.past, s)
}

func newDetector(s *Setup, r *ring, slow float64) detector {
	return detector{view: view{fit: &fit{}, ring: r, axes: s.Axes, slow: slow, stature: s.Player.Stature, hand: s.Player.Hand}, beside: len(s.Cameras) > 1}
}

// settleDue settles the windows for which every camera's frames are there, or
// have been waited for long enough.
func (m *machine) settleDue(to Sink) {
	for len(m.pending) > 0 && m.ready(&m.pending[0], to) {
		m.settleFirst(to)
		m.forget(m.cams[m.lead].lastUS)
	}
}

// ready reports whether the other cameras have come to the end of a window.
func (m *machine) ready(w *Candidate, to Sink) bool {
	for i := range m.cams {
		c := &m.cams[i]
		if i == m.lead || c.silent {
			continue
		}
		if endUS, sure := m.endOn(w, i); sure && c.lastUS >= endUS {
			continue
		}
		if !m.patienceOver(w.EndUS) {
			return false
		}
		m.warnSilent(i, to)
	}
	return true
}

// settleFirst hands the oldest window to the settled depth.
func (m *machine) settleFirst(to Sink) {
	c := m.pending[0]
	keep := m.keepNow()
	m.pending = m.pending[:copy(m.pending, m.pending[1:])]
	window := m.gather(&c)
	if m.lanes != nil {
		m.lanes.hear(m, c, window, keep)
	} else {
		m.deliver(c, window, keep, m.settledClock(), to)
	}
}

// gather returns the frames of a window: by time, then by camera. Other
// cameras' stretches are longer by otherClock, at their ends by as much as endOn says.
func (m *machine) gather(c *Candidate) []body.Frame {
	type span struct{ from, to uint64 }
	spans := make([]span, len(m.cams))
	n := 0
	for i := range m.cams {
		r, start, end := m.cams[i].ring, c.StartUS, c.EndUS
		if i != int(c.Camera) {
			margin := m.det.view.us(otherClock)
			first, last := m.person(r, c.ContactUS, wallNear+otherClock)
			end, _ = m.endOn(c, i)
			start, end = max(start-margin, first), min(end, last)
		}
		from := r.since(start)
		spans[i] = span{from, max(from, r.since(end+1))}
		n += int(spans[i].to - spans[i].from)
	}
	frames := make([]body.Frame, n)
	n = 0
	for i, s := range spans {
		for k := s.from; k < s.to; k++ {
			m.cams[i].ring.frame(k, uint8(i), &frames[n])
			n++
		}
	}
	slices.SortStableFunc(frames, func(a, b body.Frame) int { return cmp.Compare(a.TimeUS, b.TimeUS) })
	return frames
}
