package swing

import (
	"fmt"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// resumeClock goes on with a clock that an earlier stream settled.
func (m *machine) resumeClock(k Clock) {
	m.slow, m.doubt = k.Factor, k.Doubt
	m.clock = camera.SlowMotion{Factor: k.Factor, SD: k.SD}
	if k.Stated {
		m.clock.Stated = k.Factor
	}
	if lane := laneFactor(k.Factor); lane != 1 {
		m.thin(lane)
	}
	m.leadWith(m.lead)
}

// thinStated thins the stream of one camera of which the client says that it is slow.
func (m *machine) thinStated() {
	if lane := laneFactor(m.slow); lane != 1 && len(m.cams) == 1 {
		m.thin(lane)
	}
}

// settledClock is what resumeClock of a later stream wants to know.
func (m *machine) settledClock() Clock {
	if m.lanes != nil || !m.setup.unsettledClock() {
		return Clock{}
	}
	return Clock{Factor: m.slow, SD: m.clock.SD, Stated: m.clock.Stated > 0, Doubt: m.doubt}
}

// tellClock is what goes with the frame that keepIndex names: while a swing is out
// that was found with less known of the clock, that little.
func (m *machine) tellClock() Clock {
	if len(m.out) > 0 {
		return m.out[0].clock
	}
	return m.settledClock()
}

// laneFactor returns the factor of the lane that is nearest to one.
func laneFactor(factor float64) float64 {
	best := 1.0
	for _, f := range rivalFactors {
		if math.Abs(math.Log(f/factor)) < math.Abs(math.Log(best/factor)) {
			best = f
		}
	}
	return best
}

// WarnSwingsLost is the code of the warning that swings were found before the factor of
// slow motion was, more than are held, or longer ago.
const WarnSwingsLost = "swings_lost"

// conclude makes the machine go on as the lane that won, and settles what it holds.
// From then on it is as a stream would be that started at keep_from and was told
// the clock: what was made of the frames there with the lane's rough factor is
// made again with the factor that was found.
func (m *Machine) conclude(to Sink) {
	l := m.lanes
	if l == nil || l.decided == nil {
		return
	}
	won, store := l.decided, l.rows()
	again := m.become(won, l.clock, to)
	m.said = l.said.left(won)
	m.clock, m.doubt = l.clock, l.doubt
	if won.lost > 0 {
		to.Warning(measure.Warning{Code: WarnSwingsLost, Text: fmt.Sprintf(
			"%d swings came before it was known how much the clip is slowed, and could not be held so long: say its slow_motion_factor.", won.lost)})
	}
	for i := range won.held {
		h := &won.held[i]
		window := make([]body.Frame, len(h.window))
		for k, row := range h.window {
			store.read(row, 0, &window[k])
		}
		if won.factor != 1 {
			m.callFound(&h.c, to)
		}
		m.deliver(h.c, window, h.keep, Clock{}, to)
	}
	m.replay(again, to)
	m.adopt(won.factor != 1, to)
	for i := range l.all {
		for h := &l.all[i]; len(h.held) > 0; {
			h.letGo(store)
		}
		if r := l.all[i].m.cams[0].ring; r != m.cams[0].ring {
			r.forget(r.next)
		}
	}
	m.cams[0].ring.rows = m.cams[0].ring.repacked()
	m.cams[0].told = false
}

// callFound announces the contact of a swing that was found before the factor was known, or in
// frames that had to wait: what the live depth called in another lane's time was taken back, and
// every swing that is handed over has its contact called, unless it was, at the time. It comes late,
// as the swing itself does.
func (m *machine) callFound(c *Candidate, to Sink) {
	if m.claims(c) || m.live.claims(c.ContactUS) {
		return
	}
	if m.trace != nil {
		m.trace.called(m.cams[0].lastUS, phase.Contact, c.ContactUS, "found in frames that had waited, slowed %.3g times", m.slow)
	}
	to.Event(LiveEvent{Kind: phase.Contact, TimeUS: c.ContactUS, SDUS: m.det.view.us(contactGuessSD)})
}

// become takes the place of a slow lane and returns the frames to go over again.
// True time goes on as it is.
func (m *Machine) become(won *lane, k camera.SlowMotion, to Sink) *ring {
	for all, i := m.lanes.all, 0; i < len(all); i++ {
		all[i].m.lanes = nil
	}
	if won.factor == 1 {
		return nil
	}
	m.live.called[phase.Contact].on, m.live.handed[phase.Contact].on = false, false // see adopt
	m.live.retract("the clip is in slow motion", to)
	was, old := m.machine, won.m.cams[0].ring
	old.forget(old.since(won.m.keepUS(old.last())))
	m.machine = machine{setup: was.setup, slow: k.Factor, settle: was.settle, settler: was.settler, trace: was.trace, live: was.live}
	m.cams = []feed{was.cams[0]}
	m.cams[0].ring = newRing(old.rows)
	was.cams[0].ring.forget(was.cams[0].ring.next)
	m.thin(won.factor)
	m.leadWith(0)
	return old
}

// replay goes over frames again, without the live depth.
func (m *Machine) replay(old *ring, to Sink) {
	if old == nil {
		return
	}
	c := m.cams[0]
	m.cams[0].received = 0
	m.mute, m.again = true, true
	for k := old.first; k < old.next; k++ {
		m.take(0, old.row(k), to)
	}
	m.mute, m.again = false, false
	c.ring = m.cams[0].ring
	c.cell = m.cams[0].cell
	m.cams[0] = c
	m.live.restart(&m.det, &m.setup)
}

// clockDoubt is the relative error of a swing's clock that is in doubt; 0 where it is in
// none. Where what fell denies what the client said, either may be wrong: a stretch of the
// ball's path may have been no fall.
func (s *settling) clockDoubt() float64 {
	g := &s.guess
	if !g.DoubtSlow && !g.DenySlow {
		return 0
	}
	return g.SlowSD / math.Max(g.Slow, 1e-3)
}
