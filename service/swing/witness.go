package swing

import "math"

// A burst that one camera sees too slow for a swing may have gone along its line of
// sight: a camera beside it sees the hand's whole speed. What the lead's image alone
// would refuse is therefore asked of the other cameras before it is. Their answer must not
// hang on which frames happen to have come: the lead's frames after the burst wait until the
// others have sent all that counts, or for as long as a window waits for them, and what counts
// is read as if nothing had come after it.

// witnessNear is how near to one another, seconds, the contacts guessed by two cameras of
// one swing lie on their clocks: these are up to 0.2 s apart, and each guess is 0.1 s off or
// so. A take-back lies half a second before its swing.
const witnessNear = 0.35

// hold is a burst for which other cameras are asked.
type hold struct {
	on    bool
	next  uint64 // the lead's frames from this place on wait
	endUS int64  // of the burst
}

// answerUS is until when, on the clock of another camera, its frames say what it saw of a burst:
// its clock may be ahead, and a sample reads the frames after it.
func (m *machine) answerUS(endUS int64) int64 {
	return endUS + m.det.view.us(otherClock+fitReach)
}

// holds reports whether the burst that ends at an instant has to wait for what other cameras
// say of it; the lead's frames after the newest then wait.
func (m *machine) holds(endUS int64) bool {
	if len(m.cams) == 1 || m.ended {
		return false
	}
	if j, _ := m.judgeOpen(); !m.asks(&j) || m.answered(endUS, nil) {
		return false
	}
	m.held = hold{true, m.cams[m.lead].ring.next, endUS}
	return true
}

// goOn takes up the lead's frames that wait, before a place, where the others have said
// what they are asked. It is false where frames wait still.
func (m *machine) goOn(before uint64, to Sink) bool {
	h := m.held
	if !h.on {
		return true
	}
	if !m.ended && !m.answered(h.endUS, to) {
		return false
	}
	r := m.cams[m.lead].ring
	newest, mute, called := r.next, m.mute, m.again
	m.held = hold{}
	m.mute, m.again = true, called || !mute // what is found is too old for the live filters
	r.next = h.next
	if m.endBursts(r.last(), to) {
		for k := h.next + 1; k <= before && !m.held.on; k++ {
			r.next = k
			m.step(to)
		}
	}
	r.next, m.mute, m.again = newest, mute, called
	return !m.held.on
}

// answered reports whether the other cameras have sent what they saw of a burst that ended at an
// instant. Those that were waited for long enough are said to be silent, where there is somebody to tell.
func (m *machine) answered(endUS int64, to Sink) bool {
	for i := range m.cams {
		c := &m.cams[i]
		if i == m.lead || c.silent || c.received > 0 && c.lastUS >= m.answerUS(endUS) {
			continue
		}
		if to == nil || !m.patienceOver(endUS) {
			return false
		}
		m.warnSilent(i, to)
	}
	return true
}

// asks reports whether a verdict on the lead's open burst is one that others are asked about.
func (m *machine) asks(j *verdict) bool { return !j.swing && j.slow && !m.det.b.peak.world }

// witnessed reports whether another camera saw a swing where the lead saw a burst that
// is too slow. An image that shows the hands without the racket is helped by hands at
// speed; one that shows the racket, too, whose tip is mostly fast enough from anywhere, only by a
// ball that was seen to be hit.
func (m *machine) witnessed(j *verdict, endUS int64) bool {
	if !m.asks(j) {
		return false
	}
	d := &m.det
	v := &d.view
	for i := range m.cams {
		if i == m.lead || m.cams[i].ring.empty() {
			continue
		}
		from := max(d.b.openUS-v.us(windReach+otherClock), d.from)
		for _, o := range m.verdictsOf(i, from, endUS+v.us(otherClock)) {
			if math.Abs(v.seconds(o.contactUS, j.contactUS)) > witnessNear {
				continue
			}
			if o.swing && (o.ball.hit || o.met) || j.tip == 0 && (o.swing || o.slow && together(j, &o)) {
				return true
			}
		}
	}
	return false
}

// together reports whether two bursts that are too slow in each of two cameras are one swing
// by what both saw of it. Each camera sees two of three directions, one of them, up, both do:
// of a speed that goes all ways alike the squares sum to 4/3.
func together(a, b *verdict) bool {
	t := &thresholds
	hand := math.Sqrt(0.75) * math.Hypot(a.hand, b.hand)
	turn := math.Max(a.turn, b.turn)
	return math.Max(a.wind, b.wind) >= t.deepWind && turn >= t.turn && hand >= t.hand && hand*turn >= t.power
}

// verdictsOf returns how the bursts of a camera's frames of a stretch are judged by
// themselves, on its clock.
func (m *machine) verdictsOf(camera int, fromUS, toUS int64) (all []verdict) {
	r := m.cams[camera].ring
	r = r.until(r.since(toUS + m.det.view.us(fitReach) + 1))
	d := newDetector(&m.setup, r, m.slow)
	d.view.low = r.since(fromUS)
	if d.view.low >= r.next {
		return nil
	}
	d.from = r.time(d.view.low)
	settle := func(now int64, last bool) {
		for {
			if _, over := d.due(now); !over && !(last && d.b.on) {
				return
			}
			all = append(all, d.judge())
			d.b = burst{}
		}
	}
	last := r.time(r.next - 1)
	for k := d.view.low; k < r.next && r.time(k) <= toUS; k++ {
		if !d.complete(k, last) {
			break
		}
		d.sample(d.view.sample(k))
		settle(r.time(k), false)
	}
	settle(min(toUS, last), true)
	return all
}
