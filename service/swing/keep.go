package swing

// keepUS returns the lead's time before which frames are done with.
func (m *machine) keepUS(now int64) int64 {
	d := &m.det
	keep := now - d.view.us(quietBack)
	if d.b.on {
		keep = min(keep, d.b.openUS-d.view.us(quietBack))
	}
	for i := len(m.past) - 1; i >= 0; i-- {
		if s := m.past[i]; keep > s.from && keep <= s.to {
			keep = s.from
		}
	}
	keep = max(keep, d.from)
	for i := range m.pending {
		keep = min(keep, m.pending[i].keepUS)
	}
	return keep
}

// forget drops the frames that no finding can need any more.
func (m *machine) forget(now int64) {
	keep := m.keepUS(now)
	if m.lanes != nil {
		keep = m.lanes.keepOf(m, keep)
	}
	drop := 0
	for drop < len(m.past) && m.past[drop].to < keep {
		drop++
	}
	m.past = m.past[:copy(m.past, m.past[drop:])]
	for i := range m.cams {
		t := keep
		if i != m.lead {
			t -= m.det.view.us(otherClock)
		}
		m.cams[i].ring.forget(m.cams[i].ring.since(t))
	}
}

// tell reports progress about twice a second of the frames' clock, of all cameras that were
// heard: a stream that resumes this one begins with all of them at one instant.
func (m *machine) tell(camera uint8, to Sink) {
	c := &m.cams[camera]
	if c.told && c.lastUS-c.toldUS < tellEvery {
		return
	}
	c.told, c.toldUS = true, c.lastUS
	for i := range m.cams {
		if n := m.cams[i].received; n > 0 {
			to.Progress(Progress{uint8(i), n, m.keepIndex(i), m.tellClock()})
		}
	}
}

// keepIndex returns the client's number of the oldest frame that may still
// matter: what was once said not to is not asked for again.
func (m *machine) keepIndex(camera int) uint32 {
	keep := m.kept(camera)
	for _, j := range m.out {
		keep = min(keep, j.keep[camera])
	}
	c := &m.cams[camera]
	c.toldKeep = max(c.toldKeep, keep)
	return c.toldKeep
}

// kept returns the client's number of the oldest frame that the machine itself
// may still need.
func (m *machine) kept(camera int) uint32 {
	r := m.cams[camera].ring
	if m.lanes != nil {
		r = m.lanes.slowest().m.cams[0].ring
	}
	keep := m.cams[camera].lastIndex + 1
	if !r.empty() {
		keep = r.index(r.first)
	}
	if !m.cams[m.lead].ring.empty() && m.needsRecall(m.cams[m.lead].lastUS) {
		keep = min(keep, m.ball.keep[camera])
	}
	for i := range m.pending {
		if k := m.pending[i].keep; k != nil {
			keep = min(keep, k[camera])
		}
	}
	return keep
}

// bytes returns the memory that the machine holds for its stream, the frames of
// a window being settled apart.
func (m *machine) bytes() int {
	const aSample = 64 // with nothing left over
	n := cap(m.det.trail) * aSample
	for i := range m.cams {
		n += m.cams[i].ring.bytes()
		if !m.rival {
			n += m.cams[i].ring.rows.bytes()
		}
	}
	if l := m.lanes; l != nil && !m.rival {
		for i := 1; i < len(l.all); i++ {
			n += l.all[i].m.bytes()
		}
	}
	return n
}
