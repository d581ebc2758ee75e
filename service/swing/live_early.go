package swing

import (
	"math"

	"example.com/courtkin/service/phase"
)

// A body alone shows its contact in nothing but its own motion: the hand is fastest about then. What the
// live filters (handMemory) make of a phone's hand has 1 to 2 m/s of noise, and a top in it every few
// frames; the detector's fits have a third of that, but wait until every frame that they read is in,
// 0.12 s. Here they are made anew at each frame from those that are there, and what the detector would
// say of them is called at once: a top is known two frames after it.
//
// The frames of 60 ms after a contact cannot tell it better: the hand's speed is within its noise (0.3 m/s)
// of its top for 0.05 s on either side, and strokes reach their contact up to that much before or after it.
const (
	// earlyAfter is how many seconds of frames after a sample there are at least: two frames
	// at 60 Hz, without which a fit has no curve to speak of.
	earlyAfter = 0.030

	// earlyHand is how fast, m/s, the live filters have a hand that may hit.
	earlyHand = 1.5

	// earlyApart is by how much, s, a contact must have moved to be called anew: two of its sds.
	earlyApart = 2 * judgedHandSD
)

// early is the detector as it would be if the newest frames were sampled.
type early struct {
	det   detector
	trail []sample
}

// hearEarly calls the CONTACT of a body alone as soon as its motion has come to its top and passes for a
// swing.
func (l *live) hearEarly(to Sink) {
	d := l.det
	if !d.bodyAlone() || l.quickHand < earlyHand || len(d.trail) == 0 {
		return
	}
	e := l.early.look(d)
	n := len(e.trail)
	if !e.b.on || e.b.awaits || n < 2 || !e.trail[n-1].ok || e.levelAt(n-1) > e.levelAt(n-2) {
		return
	}
	if h := &l.handed[phase.Contact]; h.on && l.view.seconds(h.us, e.b.peakUS) < followFor {
		return // what is left of the last swing
	}
	j := e.judge()
	if c := &l.called[phase.Contact]; !j.swing || c.on && math.Abs(l.view.seconds(c.us, j.contactUS)) < earlyApart {
		return
	}
	l.judged.openUS, l.judged.us = e.b.openUS, j.contactUS
	l.callJudged(&j, to)
}

// look samples what there is of the newest frames, for a detector of its own.
func (e *early) look(d *detector) *detector {
	p := &e.det
	e.trail = append(e.trail[:0], d.trail...)
	*p = *d
	p.trail = e.trail
	r := d.view.ring
	for k := max(p.sampled, r.first); k < r.next && d.view.seconds(r.time(k), r.last()) >= earlyAfter; k++ {
		p.sample(p.view.sample(k))
	}
	if p.raws == 2 {
		p.take(p.raw[1]) // the newest has no neighbour yet
	}
	e.trail = p.trail
	return p
}

// levelAt returns how swing-like sample i of the trail is, with those before it.
func (d *detector) levelAt(i int) float64 {
	trail := d.trail
	defer func() { d.trail = trail }()
	d.trail = trail[:i+1]
	return d.level(&trail[i])
}
