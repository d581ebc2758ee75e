package swing

// A camera that showed a ball being hit shows the next one, too. After a swing the
// detector begins anew, as if the stream did, and of a half swing between two balls its
// own frames tell only that no ball was there: as in a stream that never shows one, where
// less is asked of a swing. So for some time it is remembered that the last swing had a
// ball, and a burst without one is refused as where balls are seen.
//
// A stream that resumes this one must remember the same: it is asked to begin before that
// swing, which it then finds again, by its identity. What is remembered refuses a burst
// at its end and does nothing else; so a swing hangs on it only through the bursts that
// were refused before it (stretch.recalled), and a stream that begins after those needs
// none of it.

// recallFor is for how long, seconds after its contact, it counts that the last swing had
// a ball. Balls come 2 to 6 s apart in rallies and from a machine (common practice, no source).
const recallFor = 10.0

// recall is that the last swing had a ball.
type recall struct {
	untilUS int64    // 0: it had none, or there was no swing
	keep    []uint32 // of each camera: a stream that begins there finds that swing
}

// recalls reports whether it counts for the open burst. While it is open or in
// doubt how much a clip is slowed, nothing is remembered: a stream that resumes it may be
// told another factor.
func (m *machine) recalls() bool {
	return m.lanes == nil && !m.doubt && m.det.b.openUS < m.ball.untilUS
}

// needsRecall reports whether a stream that resumes this one must find the last swing again.
func (m *machine) needsRecall(nowUS int64) bool {
	if m.ball.keep == nil {
		return false
	}
	if nowUS < m.ball.untilUS || m.det.b.on && m.recalls() {
		return true
	}
	return m.recalledSince(0)
}

// recalledSince reports whether a burst that ended at an instant or later was refused for
// what was remembered.
func (m *machine) recalledSince(us int64) bool {
	for _, s := range m.past {
		if s.recalled && s.to >= us {
			return true
		}
	}
	return false
}

// remember takes in that a swing was found.
func (m *machine) remember(c *Candidate) {
	switch {
	case m.lanes != nil || m.doubt:
		m.ball = recall{}
	case m.det.seesBall():
		keep := c.keep
		if keep == nil {
			keep = m.indices(c.keepUS)
		}
		m.ball = recall{c.ContactUS + m.det.view.us(recallFor), keep}
	}
}

// indices returns the client's numbers of the oldest frames at or after a time of the lead's clock.
func (m *machine) indices(us int64) []uint32 {
	keep := make([]uint32, len(m.cams))
	for i := range m.cams {
		t, r := us, m.cams[i].ring
		if i != m.lead {
			t -= m.det.view.us(otherClock)
		}
		switch k := r.since(t); {
		case k < r.next:
			keep[i] = r.index(k)
		default:
			keep[i] = m.cams[i].lastIndex + 1
		}
	}
	return keep
}

// judgeOpen judges the open burst, by what is remembered where its own frames show no ball.
// The burst stays as it was: it may be judged for a display at any time.
func (m *machine) judgeOpen() (j verdict, recalled bool) {
	d := &m.det
	b := d.b
	defer func() { d.b = b }()
	j = d.judge()
	if !j.swing || j.ball.hit || d.seesBall() || !m.recalls() {
		return j, false
	}
	d.recalls = true
	again := d.judge()
	d.recalls = false
	if again.swing {
		return j, false
	}
	again.why += ", and the last swing had a ball"
	return again, true
}
