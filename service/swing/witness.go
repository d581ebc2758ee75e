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
	on      bool
	next    uint64 // the lead's frames from this place on wait
	untilUS int64  // until when what others saw counts
}

// holds reports whether the burst that ends at an instant has to wait for what other cameras
// say of it; the lead's frames after the newest then wait.
func (m *machine) holds(endUS int64) bool {
	if len(m.cams) == 1 || m.ended {
		return false
	}
	j, _ := m.judgeOpen()
	until, ask := m.asks(&j, endUS)
	if !ask || m.answered(until, nil) {
		return false
	}
	m.held = hold{true, m.cams[m.lead].ring.next, until}
	return true
}

// goOn takes up the lead's frames that wait, before a place, where the others have said
// what they are asked. It is false where frames wait still.
func (m *machine) goOn(before uint64, to Sink) bool {
	h := m.held
	if !h.on {
		return true
	}
	if !m.ended && !m.answered(h.untilUS, to) {
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

// answered reports whether the other cameras have sent what they saw until an instant of the
// lead's clock: theirs may be ahead, and a sample reads the frames after it. Those that were waited
// for long enough are said to be silent, where there is somebody to tell.
func (m *machine) answered(untilUS int64, to Sink) bool {
	for i := range m.cams {
		c := &m.cams[i]
		if i == m.lead || c.silent || c.received > 0 && c.lastUS >= untilUS+m.det.view.us(otherClock+fitReach) {
			continue
		}
		if to == nil || !m.patienceOver(untilUS) {
			return false
		}
		m.warnSilent(i, to)
	}
	return true
}

// asks returns until when it counts what other cameras saw, if they are asked about a verdict on
// the lead's open burst: one that is too slow in an image, and one that passes for a swing in an
// image though some camera sees balls and it met none. Either may be the take-back for a ball that they
// saw hit later.
func (m *machine) asks(j *verdict, endUS int64) (untilUS int64, ask bool) {
	d := &m.det
	if len(m.cams) == 1 || d.b.peak.world {
		return 0, false
	}
	ask = j.slow
	if j.swing && !j.ball.hit && !j.met {
		if ask = d.seesBall() || d.rivalWait() > 0; !ask && !m.ended && !m.answered(j.contactUS, nil) {
			return j.contactUS, true // whether they see balls is to be known first
		}
		ask = ask || m.othersSeeBall(j.contactUS)
	}
	return max(endUS, j.contactUS+d.view.us(rivalReach)), ask
}

// othersSeeBall reports whether a camera beside the lead showed a ball of late before an instant.
func (m *machine) othersSeeBall(us int64) bool {
	for i := range m.cams {
		r := m.cams[i].ring
		if i != m.lead && !r.empty() && r.until(r.since(us+1)).seesBallSince(max(us-m.det.view.us(windReach), m.det.from)) {
			return true
		}
	}
	return false
}

// hearWitnesses mends a verdict on the lead's burst by what other cameras saw. later says that it
// was no swing, for they saw the ball plainly hit after it.
//
// A burst that was too slow for a swing is one where another camera saw a swing at the same time. An
// image that shows the hands without the racket is helped by hands at speed; one that shows the racket,
// too, whose tip is mostly fast enough from anywhere, only by a ball that was seen to be hit. A
// ball that another camera saw plainly hit while the burst lasted tells when, too.
func (m *machine) hearWitnesses(j *verdict, endUS int64) (later bool) {
	until, ask := m.asks(j, endUS)
	if !ask {
		return false
	}
	d := &m.det
	v := &d.view
	first, last := d.b.openUS-v.us(witnessNear), endUS-v.us(witnessNear)
	var after int64
	for i := range m.cams {
		if i == m.lead || m.cams[i].ring.empty() {
			continue
		}
		from := max(d.b.openUS-v.us(windReach+otherClock), d.from)
		for _, o := range m.verdictsOf(i, from, until+v.us(otherClock)) {
			near := math.Abs(v.seconds(o.contactUS, j.contactUS)) <= witnessNear
			plain := o.swing && o.ball.hit && o.ball.plain
			switch {
			case j.swing && near && o.swing:
				return false
			case !j.swing && near && (o.swing && (o.ball.hit || o.met) || j.tip == 0 && (o.swing || o.slow && together(j, &o))):
				j.swing, j.why = true, "another camera saw the hand at speed"
				return false
			case !plain || near:
			case !j.swing && o.contactUS >= first && o.contactUS <= last:
				j.swing, j.why = true, "another camera saw the ball hit"
				j.contactUS = max(o.contactUS, d.b.openUS)
				return false
			case !later && o.contactUS > j.contactUS && o.contactUS <= until:
				later, after = true, o.contactUS
			}
		}
	}
	if !later {
		return false
	}
	d.told = foretold{true, after}
	later = j.swing
	if j.swing {
		j.swing, j.why = false, "another camera saw the ball hit later: a take-back"
	}
	return later
}

// foretold is a ball that another camera saw plainly hit after a burst of the lead's that was none.
type foretold struct {
	on bool
	us int64 // on that camera's clock
}

// watchTold opens a burst where another camera saw the ball hit, if the lead's frames have opened
// none thereabouts: it is then judged, and the others are asked, as about any other.
func (d *detector) watchTold(nowUS int64) {
	if !d.told.on || d.view.seconds(d.told.us, nowUS) < witnessNear {
		return
	}
	if d.told.on = false; !d.b.on {
		d.meet(d.told.us, 0, false)
	}
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
