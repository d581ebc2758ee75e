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
// is too slow. An image that shows the hands without the racket is helped by hands at
// speed; one that shows the racket, too, whose tip is mostly fast enough from anywhere, only by a
// ball that was seen to be hit.
func (m *machine) witnessed(j *verdict, endUS int64) bool {
	d := &m.det
	if j.swing || !j.slow || d.b.peak.world {
		return false
	}
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
