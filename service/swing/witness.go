package swing

import "math"

// A burst that one camera sees too slow for a swing may have gone along its line of
// sight: a camera beside it sees the hand's whole speed. What the lead's image alone
// would refuse is therefore asked of the other cameras before it is.

// witnessNear is how near to one another, seconds, the contacts guessed by two cameras of
// one swing lie on their clocks: these are up to 0.2 s apart, and each guess is 0.1 s off or
// so. A take-back lies half a second before its swing.
const witnessNear = 0.35

// witnessed reports whether another camera saw a swing where the lead saw a burst that
// is too slow. Only an image that shows the
// hands without the racket is asked for help: a racket's tip is fast enough from anywhere.
func (m *machine) witnessed(j *verdict, endUS int64) bool {
	d := &m.det
	if j.swing || !j.slow || d.b.peak.world || j.tip > 0 {
		return false
	}
	v := &d.view
	for i := range m.cams {
		if i == m.lead || m.cams[i].ring.empty() {
			continue
		}
		from := max(d.b.openUS-v.us(windReach+otherClock), d.from)
		for _, at := range m.swingsOf(i, from, endUS+v.us(otherClock)) {
			if math.Abs(v.seconds(at, j.contactUS)) < witnessNear {
				return true
			}
		}
	}
	return false
}

// swingsOf returns when a camera's frames of a stretch, by themselves, show contacts of
// swings: microseconds of its clock.
func (m *machine) swingsOf(camera int, fromUS, toUS int64) (at []int64) {
	r := m.cams[camera].ring
	d := newDetector(&m.setup, r, m.slow)
	d.view.low = r.since(fromUS)
	if d.view.low >= r.next {
		return nil
	}
	d.from = r.time(d.view.low)
	settle := func(now int64, all bool) {
		for {
			if _, over := d.due(now); !over && !(all && d.b.on) {
				return
			}
			if j := d.judge(); j.swing {
				at = append(at, j.contactUS)
			}
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
	return at
}
