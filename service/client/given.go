package client

import (
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// most bounds what is remembered to tell repetitions: far more swings than one
// window of frames can hold.
const most = 1024

// given remembers what was handed on, to hand nothing on twice, and to open
// the next stream where the last one stood.
type given struct {
	first    *pb.StreamPracticeRequest_Open
	clock    *pb.SettledClock // as the newest acknowledgement has it
	opened   bool
	swings   memory
	warnings memory
	count    uint32   // swings handed on that are no longer in recent
	cues     []string // their cues
	recent   []played
}

// played is a swing that a new stream may come to again.
type played struct {
	contactUS int64
	cues      []string
}

// maxRecentSwings is more swings than the frames that are kept can hold.
const maxRecentSwings = 64

func newGiven(open *pb.StreamPracticeRequest_Open) given { return given{first: open} }

// open returns the opening message of a stream whose frames begin at firstUS:
// told of the swings before that, for those after it the server finds again,
// and chooses the same cues for what follows.
func (g *given) open(firstUS int64) *pb.StreamPracticeRequest_Open {
	o := proto.CloneOf(g.first)
	o.SwingsSoFar += g.count
	o.RecentCues = append(o.RecentCues, g.cues...)
	for _, s := range g.recent {
		if s.contactUS < firstUS {
			o.SwingsSoFar++
			o.RecentCues = append(o.RecentCues, s.cues...)
		}
	}
	o.RecentCues = newest(o.RecentCues)
	if g.clock != nil {
		o.Clock = g.clock
	}
	return o
}

// newest returns the cues that the server will look back on.
func newest(cues []string) []string { return cues[max(0, len(cues)-64):] }

// fresh reports whether a message is new. Events and readings of repeated
// frames are not.
func (g *given) fresh(m *pb.StreamPracticeResponse, replaying bool) bool {
	switch m := m.GetMessage().(type) {
	case *pb.StreamPracticeResponse_Opened_:
		first := !g.opened
		g.opened = true
		return first
	case *pb.StreamPracticeResponse_Swing:
		return g.swing(m.Swing)
	case *pb.StreamPracticeResponse_Warning:
		return g.warnings.add(m.Warning.GetCode() + "\x00" + m.Warning.GetText())
	}
	return !replaying
}

func (g *given) swing(s *pb.Swing) bool {
	if !g.swings.add(s.GetId()) {
		return false
	}
	now := played{}
	for _, e := range s.GetEvents() {
		if e.GetKind() == pb.EventKind_EVENT_KIND_CONTACT {
			now.contactUS = e.GetTimeUs()
		}
	}
	for _, c := range s.GetCues() {
		now.cues = append(now.cues, c.GetName())
	}
	g.recent = append(g.recent, now)
	if len(g.recent) > maxRecentSwings {
		g.count++
		g.cues = newest(append(g.cues, g.recent[0].cues...))
		g.recent = g.recent[1:]
	}
	return true
}

// memory is a set of the newest keys.
type memory struct {
	has   map[string]bool
	order []string
}

// add reports whether the key is new, and remembers it.
func (m *memory) add(key string) bool {
	if m.has[key] {
		return false
	}
	if m.has == nil {
		m.has = map[string]bool{}
	}
	m.has[key] = true
	m.order = append(m.order, key)
	if len(m.order) > most {
		delete(m.has, m.order[0])
		m.order = m.order[1:]
	}
	return true
}
