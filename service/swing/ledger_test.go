package swing

import (
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
)

// TestARefusalTakesItsOwnContactBack: a take-back that ends as no swing takes back what was
// called of it, and not the contact of the stroke that has come meanwhile.
func TestARefusalTakesItsOwnContactBack(t *testing.T) {
	for _, c := range []struct {
		after int64 // µs
		kept  bool
	}{{0, false}, {200_000, false}, {600_000, true}} {
		to := &calls{}
		l := &live{det: &detector{}, view: view{slow: 1}}
		l.called[phase.Contact] = called{on: true, us: 5_000_000 + c.after}
		l.refused(&verdict{contactUS: 5_000_000}, to)
		if kept := len(to.all) == 0 && l.called[phase.Contact].on; kept != c.kept {
			t.Errorf("%d µs after a refused burst: kept %v", c.after, kept)
		}
	}
}

// TestWhatTheBallToldStandsForOtherLanes follows the contacts of a stream of unknown factor: one
// that the ball told and true time refuses stands while a slow lane may have it, and is not said
// twice; what no lane wants, and what the hand told, is taken back.
func TestWhatTheBallToldStandsForOtherLanes(t *testing.T) {
	m, err := New(Setup{})
	if err != nil {
		t.Fatal(err)
	}
	to := &calls{}
	for i := range int64(60) {
		f := body.Frame{Index: uint32(i), TimeUS: i * 16_667}
		if err := m.Push(&f, to); err != nil {
			t.Fatal(err)
		}
	}
	say, at := m.speakTo(to), int64(900_000)
	tell := func(sdUS int64, withdrawn bool) {
		say.Event(LiveEvent{Kind: phase.Contact, TimeUS: at, SDUS: sdUS, Withdrawn: withdrawn, refused: withdrawn, byBall: sdUS == 8_000})
	}
	tell(8_000, false)
	tell(0, true)
	m.lanes.said.tend()
	if len(to.all) != 1 {
		t.Fatalf("refused by true time alone: %+v", to.all)
	}
	at += 5_000
	tell(8_000, false)
	if len(to.all) != 1 {
		t.Errorf("said twice: %+v", to.all)
	}
	tell(0, true)
	for i := 1; i < len(m.lanes.all); i++ {
		m.lanes.all[i].m.det.from = at + 1
	}
	m.lanes.said.tend()
	if n := len(to.all); n != 2 || !to.all[1].Withdrawn || to.all[1].TimeUS != to.all[0].TimeUS {
		t.Errorf("wanted by no lane: %+v", to.all)
	}
	for i := 1; i < len(m.lanes.all); i++ {
		m.lanes.all[i].m.det.from = 0
	}
	tell(90_000, false)
	tell(0, true)
	if n := len(to.all); n != 4 || !to.all[3].Withdrawn {
		t.Errorf("told by the hand and refused: %+v", to.all)
	}
}

// calls is a sink that keeps events.
type calls struct {
	nobody
	all []LiveEvent
}

func (c *calls) Event(e LiveEvent) { c.all = append(c.all, e) }

// TestASwingClaimsTheNearestContact: of what was announced a swing claims what is nearest to its
// own contact; what racket or hand told only where it holds as it stands.
func TestASwingClaimsTheNearestContact(t *testing.T) {
	const at = 10_000_000 // µs, of a clip slowed eight times
	for _, c := range []struct {
		name string
		said []said
		ball float64 // m/s, of the swing
		left []int64
	}{
		{"the ball told both", []said{{us: at + 100_000, sdUS: 80_000, byBall: true}, {us: at + 900_000, sdUS: 80_000, byBall: true}}, 9, []int64{at + 900_000}},
		{"of two the nearer", []said{{us: at - 200_000, sdUS: 80_000, byBall: true}, {us: at + 50_000, sdUS: 80_000, byBall: true}}, 9, []int64{at - 200_000}},
		{"the ball told the call alone", []said{{us: at - 1_900_000, sdUS: 80_000, byBall: true}}, 0, nil},
		{"too far for that, too", []said{{us: at - 2_100_000, sdUS: 80_000, byBall: true}}, 0, []int64{at - 2_100_000}},
		{"the hand told it where it was", []said{{us: at - 150_000, sdUS: 90_000}}, 9, nil},
		{"the hand told it elsewhere", []said{{us: at - 200_000, sdUS: 90_000}}, 9, []int64{at - 200_000}},
	} {
		m := &machine{det: detector{view: view{slow: 8}}, said: c.said}
		claimed := m.claims(&Candidate{ContactUS: at, ball: c.ball})
		var left []int64
		for _, s := range m.said {
			left = append(left, s.us)
		}
		if claimed != (len(c.left) < len(c.said)) || !slices.Equal(left, c.left) {
			t.Errorf("%s: claimed %v, left %v, want %v", c.name, claimed, left, c.left)
		}
	}
}
