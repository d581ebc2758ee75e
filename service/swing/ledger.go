package swing

import (
	"math"

	"example.com/courtkin/service/phase"
)

// While it is open how much a clip is slowed, the live depth of true time speaks, and what it
// makes of speeds may be wrong. But a ball that leaves its flight at the racket does so in any
// lane. So what it refuses as no swing stands as long as another lane may still find one there,
// and what it announced stands for the lane that wins where that has a swing's contact.

// maxSaid bounds the contacts that are remembered: more than the windows that a lane holds.
const maxSaid = maxHeld + 4

// said is a contact that was announced to the client and not withdrawn.
type said struct {
	us, sdUS int64
	as       int64 // the live depth's own time of it
	byBall   bool  // the ball told it: racket and hand tell another time in another lane
	doubted  bool  // true time refuses it: it stands for other lanes
}

// ledger is the sink through which the live depth of true time speaks while lanes run.
type ledger struct {
	Sink
	l   *lanes
	all []said // oldest first
}

// Event passes an event on, but a contact that is said already, or that another lane may want.
func (g *ledger) Event(e LiveEvent) {
	switch {
	case e.Kind != phase.Contact:
	case e.Withdrawn:
		i := g.of(e.TimeUS)
		if i < 0 {
			return
		}
		if s := &g.all[i]; e.refused && s.byBall && g.l.mayHave(s.us) {
			s.doubted = true
			return
		}
		g.drop(i)
		return
	default:
		for i := range g.all {
			if s := &g.all[i]; s.doubted && math.Abs(float64(s.us-e.TimeUS)) < 2*float64(s.sdUS+e.SDUS) {
				s.doubted, s.as = false, e.TimeUS
				return
			}
		}
		if len(g.all) == maxSaid {
			g.all = g.all[:copy(g.all, g.all[1:])]
		}
		g.all = append(g.all, said{us: e.TimeUS, sdUS: e.SDUS, as: e.TimeUS, byBall: e.byBall})
	}
	g.Sink.Event(e)
}

// speakTo returns the sink of the machine's own live depth.
func (m *machine) speakTo(to Sink) Sink {
	if m.lanes == nil {
		return to
	}
	m.lanes.said.Sink = to
	return &m.lanes.said
}

// of returns the place of what the live depth called at a time; −1: it is not said.
func (g *ledger) of(us int64) int {
	for i := len(g.all) - 1; i >= 0; i-- {
		if g.all[i].as == us {
			return i
		}
	}
	return -1
}

// drop takes a contact back.
func (g *ledger) drop(i int) {
	g.Sink.Event(LiveEvent{Kind: phase.Contact, TimeUS: g.all[i].us, Withdrawn: true})
	g.all = append(g.all[:i], g.all[i+1:]...)
}

// tend takes back what no lane wants any more.
func (g *ledger) tend() {
	for i := len(g.all) - 1; i >= 0; i-- {
		if s := &g.all[i]; s.doubted && !g.l.mayHave(s.us) {
			g.drop(i)
		}
	}
}

// mayHave reports whether a slow lane has a swing about an instant, or may find one yet: not
// where it would have the hand faster than hands are.
func (l *lanes) mayHave(us int64) bool {
	for i := 1; i < len(l.all); i++ {
		h := &l.all[i]
		for k := range h.held {
			if v := &h.m.det.view; math.Abs(v.seconds(us, h.held[k].c.ContactUS)) < guessReach {
				return true
			}
		}
		if h.m.det.mayHave(us) {
			return true
		}
	}
	return false
}

// unwind reports whether in a lane of openEase or slower a chest that was wound up comes back, or
// a hand is over the shoulders, by what is sampled.
func (l *lanes) unwind() bool {
	for i := range l.all {
		if d := &l.all[i].m.det; l.all[i].factor*openEase >= 1 && d.woundUp() {
			return true
		}
	}
	return false
}

// woundUp reports whether the newest sample is of a chest that comes back from having been
// wound up, or of a hand over the shoulders.
func (d *detector) woundUp() bool {
	i := len(d.trail) - 1
	if i < 0 || !d.trail[i].ok {
		return false
	}
	s := &d.trail[i]
	if _, side := s.hitter(); float64(s.high[side]) > thresholds.above {
		return true
	}
	sign := d.turnSign(i, s.timeUS)
	if sign == 0 {
		return false
	}
	wind, _ := d.unwound(i, sign)
	return wind >= d.leastWind(s.world)
}

// mayHave reports whether the open burst may be that of a contact, or one may open yet for it.
func (d *detector) mayHave(us int64) bool {
	if us < d.from {
		return false
	}
	v := &d.view
	seen := int64(math.MinInt64)
	for i := range d.trail {
		s := &d.trail[i]
		if hand, _ := s.hitter(); s.ok && hand > fastestHand {
			return false
		}
		seen = s.timeUS
	}
	return seen < us+v.us(strikeAfter) || d.b.on && us >= d.b.openUS-v.us(strikeBefore)
}

// claims reports whether a contact that was announced is that of a swing that was found, and
// notes that it is. Where the ball told the contact, but not the swing's, it is the better of the
// two; what racket or hand told was told in true time, and must hold as it stands.
func (m *machine) claims(c *Candidate) bool {
	sd, least := contactGuessSD, guessReach
	if c.ball > 0 {
		sd, least = metSD, 0
	}
	best, gap := -1, math.Inf(1)
	for i := range m.said {
		s := &m.said[i]
		reach := 2 * float64(s.sdUS)
		if s.byBall {
			reach = max(2*math.Hypot(float64(s.sdUS), float64(m.det.view.us(sd))), float64(m.det.view.us(least)))
		}
		if d := math.Abs(float64(s.us - c.ContactUS)); d < reach && d < gap {
			best, gap = i, d
		}
	}
	if best < 0 {
		return false
	}
	m.said = append(m.said[:best], m.said[best+1:]...)
	return true
}

// left returns the contacts that the lane that won is to claim: in true time the live depth
// goes on with its own.
func (g *ledger) left(won *lane) []said {
	if won.factor != 1 {
		return g.all
	}
	var doubted []said
	for _, s := range g.all {
		if s.doubted {
			doubted = append(doubted, s)
		}
	}
	return doubted
}

// adopt makes the newest contact that was announced and that no swing claimed the live depth's
// own, where one may claim it yet, and takes the others back.
func (m *machine) adopt(slow bool, to Sink) {
	for i, s := range m.said {
		if slow && s.byBall && i == len(m.said)-1 && m.det.mayHave(s.us) {
			m.live.called[phase.Contact] = called{on: true, us: s.us, sd: m.det.view.seconds(0, s.sdUS)}
			m.live.byBall, m.live.struckUS = true, s.us
			continue
		}
		m.trace.withdrawn(m.cams[0].lastUS, phase.Contact, "how much the clip is slowed is known now, and no swing was there")
		to.Event(LiveEvent{Kind: phase.Contact, TimeUS: s.us, Withdrawn: true})
	}
	m.said = nil
}
