package swing

import (
	"runtime"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

// memoryOf returns what a stream of a waiting player holds after a minute (of real
// time), by its own account and by the heap's, bytes.
func memoryOf(t testing.TB, s Setup, slow float64) (own, heap int) {
	t.Helper()
	const streams = 8
	frames := standingFor(int(60*60*slow), 60, layouts[33])
	to := &quiet{}
	all := make([]*Machine, streams)
	var was, is runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&was)
	for i := range all {
		all[i], _ = New(s)
		for k := range frames {
			if err := all[i].Push(&frames[k], to); err != nil {
				t.Fatal(err)
			}
		}
	}
	runtime.GC()
	runtime.ReadMemStats(&is)
	own = all[0].bytes()
	runtime.KeepAlive(all)
	runtime.KeepAlive(frames)
	return own, int(is.HeapAlloc-was.HeapAlloc) / streams
}

// What a stream at 60 Hz with 33 points, racket and ball holds while nothing moves.
// Where the factor of slow motion is known that is 2.6 s of real time, at 60 frames a
// real second. Where it is not, five lanes share their rows, but the slowest reaches
// 42 s back: the windows of slow swings that may yet turn out to be open. Rows are
// narrow there.
func TestMemoryOfAStream(t *testing.T) {
	phone := Setup{Axes: camera.AxesCamera, Player: body.Player{Hand: body.RightHanded}}
	settled := phone
	settled.Clock = Clock{Factor: 1}
	slow := phone
	slow.Clock = Clock{Factor: 4, SD: 0.1}
	stated := phone
	stated.Cameras = []camera.Camera{{SlowMotion: 8}}
	for _, c := range []struct {
		name  string
		setup Setup
		slow  float64
		most  int // bytes
	}{
		{"on a court", Setup{Axes: camera.AxesCourt}, 1, 200_000},
		{"in true time", settled, 1, 200_000},
		{"slowed four times", slow, 4, 200_000},
		{"said to be slowed eight times", stated, 8, 200_000},
		{"of which nobody knows how much it is slowed", phone, 1, 200_000},
	} {
		own, heap := memoryOf(t, c.setup, c.slow)
		t.Logf("%s: %d bytes, by the heap %d", c.name, own, heap)
		if own > c.most {
			t.Errorf("%s: %d bytes, at most %d", c.name, own, c.most)
		}
		if heap > own+own/10+20_000 { // size classes, and what is no frame
			t.Errorf("%s: the heap holds %d bytes, the stream owns to %d", c.name, heap, own)
		}
	}
}

// TestALongPracticeHoldsNoMore plays two hours of swings and of motions that come to
// nothing: what the machine holds after the first minutes is all that it ever holds.
func TestALongPracticeHoldsNoMore(t *testing.T) {
	frames := drawn(24)
	span := frames[len(frames)-1].TimeUS + 16_667
	for name, s := range map[string]Setup{
		"court":         {Axes: camera.AxesCourt},
		"clock unknown": {Axes: camera.AxesCamera},
	} {
		m, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		m.settle = unsettled
		b := &book{}
		early, swings := 0, 0
		rounds := int(2*3600*1_000_000/span) + 1
		for round := range rounds {
			for i := range frames {
				f := frames[i]
				f.TimeUS += span * int64(round)
				f.Index += uint32(len(frames) * round)
				if err := m.Push(&f, b); err != nil {
					t.Fatal(err)
				}
			}
			swings += len(b.swings)
			*b = book{}
			if round == 1 {
				early = m.bytes()
			}
		}
		if late := m.bytes(); late > early || early > 600_000 {
			t.Errorf("%s: %d bytes after %d swings, %d in the beginning", name, late, swings, early)
		}
		if n := len(m.out) + len(m.heard) + len(m.pending) + len(m.past); n > maxStretches {
			t.Errorf("%s: %d things are remembered", name, n)
		}
		if swings < 24*(rounds-1) {
			t.Errorf("%s: %d swings in %d rounds of 24", name, swings, rounds)
		}
	}
}

// TestAnUndecidedClipAsksForFiveMinutes: while nothing tells how much a clip is slowed,
// a client is asked to keep five minutes of frames at most, and the machine's memory
// stays what windows that may be open take.
func TestAnUndecidedClipAsksForFiveMinutes(t *testing.T) {
	frames := drawn(30)
	var m *Machine
	var b *book
	begin := func() {
		var err error
		if m, err = New(Setup{Axes: camera.AxesCamera}); err != nil {
			t.Fatal(err)
		}
		m.settle = unsettled
		b = &book{}
	}
	begin()
	held, longest, most, began := 0, int64(0), 0, int64(0)
	span := frames[len(frames)-1].TimeUS + 16_667
	for round := range int64(3) {
		for i := range frames {
			f := frames[i]
			f.TimeUS = 8 * (f.TimeUS + span*round) // slowed eight times: no hand over 1 m/s
			f.Index += uint32(int64(len(frames)) * round)
			if err := m.Push(&f, b); err != nil {
				t.Fatal(err)
			}
			if m.lanes == nil { // in doubt, before a swing would have been lost: the next stream begins
				if f.TimeUS-began < holdFor*1_000_000 {
					t.Fatalf("decided after %.0f s: nothing undecided was tried", float64(f.TimeUS-began)*1e-6)
				}
				began = f.TimeUS
				begin()
				continue
			}
			for k := range m.lanes.all {
				held = max(held, len(m.lanes.all[k].held))
			}
			if n := len(b.progress); n > 0 {
				keep := int64(b.progress[n-1].KeepFrom)
				at := 8 * (frames[keep%int64(len(frames))].TimeUS + span*(keep/int64(len(frames))))
				longest = max(longest, f.TimeUS-at)
			}
			most = max(most, m.bytes())
		}
	}
	t.Logf("up to %d windows held in a lane, %.0f s of frames kept, %d bytes", held, float64(longest)*1e-6, most)
	if longest > 300_000_000 {
		t.Errorf("%.0f s of frames are asked for", float64(longest)*1e-6)
	}
	if held == 0 || longest < 60_000_000 {
		t.Errorf("only %d windows were held and %.0f s asked for: nothing was tried", held, float64(longest)*1e-6)
	}
}
