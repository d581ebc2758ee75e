package swing

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
)

// drawn is a practice of n drawn forehands at 60 Hz, with motions between them
// that come to nothing.
func drawn(n int) []body.Frame {
	var out []body.Frame
	now := int64(0)
	for i := range n {
		for _, name := range []string{"forehand", "pulled_back", "waiting"}[:1+2*(i%2)] {
			s := scenes[name]
			for _, f := range s.frames(60) {
				f.TimeUS, f.Index = now, uint32(len(out))
				out = append(out, f)
				now += 16_667
			}
		}
	}
	return out
}

// known is unsettled with a hand that is sure. It is the other hand, so that the
// provisional findings tell when it was believed.
func known(w []body.Frame, c Candidate, s Setup) (*measure.Sheet, error) {
	sheet, err := unsettled(w, c, s)
	sheet.Hand, sheet.StrokeConfidence = body.LeftHanded, 0.9
	return sheet, err
}

// slowly is a settler that does a job when it is waited for, or when taken from.
type slowly struct{}

func (slowly) Settle(Job) {}

func (slowly) Wait(j Job) bool {
	if j.(*job).sheet == nil {
		j.Do()
	}
	return true
}

// deferred plays frames with jobs done and taken back as late as late says,
// frames after they were handed out.
func deferred(t *testing.T, s Setup, frames []body.Frame, late func() int) *book {
	t.Helper()
	m, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	m.settle = known
	to, by := &book{}, slowly{}
	m.SettleBy(by)
	left := -1
	for i := range frames {
		if err := m.Push(&frames[i], to); err != nil {
			t.Fatal(err)
		}
		if m.Unsettled() > 0 && left < 0 {
			left = late()
		}
		if left--; left == -1 && m.Unsettled() > 0 {
			by.Wait(m.out[0])
			m.TakeBack(to)
		}
	}
	m.Finish(to)
	if m.Unsettled() != 0 {
		t.Errorf("%d jobs are out after the end", m.Unsettled())
	}
	return to
}

// TestWhenSwingsAreSettledChangesNothing: swings, provisional events and readings
// are the same whenever the settled depth answers, the hand that it tells included.
func TestWhenSwingsAreSettledChangesNothing(t *testing.T) {
	frames := drawn(6)
	for i := range frames { // the hands alone tell the events
		for p := body.RacketTip; p <= body.RacketRight; p++ {
			frames[i].World[p] = body.Seen3{}
		}
	}
	for name, s := range map[string]Setup{
		"hand not given": {Axes: camera.AxesCourt},
		"hand given":     {Axes: camera.AxesCourt, Player: body.Player{Hand: body.RightHanded}},
		"clock unknown":  {Axes: camera.AxesCamera},
	} {
		m, err := New(s)
		if err != nil {
			t.Fatal(err)
		}
		m.settle = known
		want := &book{}
		for i := range frames {
			if err := m.Push(&frames[i], want); err != nil {
				t.Fatal(err)
			}
		}
		m.Finish(want)
		if len(want.swings) != 6 || m.live.hand == body.HandUnknown {
			t.Fatalf("%s: %d swings, want 6; hand %d", name, len(want.swings), m.live.hand)
		}
		rng := rand.New(rand.NewPCG(5, 5))
		for _, late := range []func() int{
			func() int { return 0 }, func() int { return 30 }, func() int { return 1 << 30 }, func() int { return rng.IntN(500) },
		} {
			got := deferred(t, s, frames, late)
			if !reflect.DeepEqual(got.swings, want.swings) || !reflect.DeepEqual(got.events, want.events) ||
				fmt.Sprint(got.readings) != fmt.Sprint(want.readings) {
				t.Errorf("%s: late by %d: %d swings, %d events; want %d, %d or they differ", name, late(), len(got.swings), len(got.events), len(want.swings), len(want.events))
			}
			last := len(want.progress) - 1
			if len(got.progress) != last+1 || got.progress[last] != want.progress[last] {
				t.Fatalf("%s: progress ends with %v, want %v", name, got.progress[len(got.progress)-1], want.progress[last])
			}
			for i := range want.progress {
				if got.progress[i].KeepFrom > want.progress[i].KeepFrom || i > 0 && got.progress[i].KeepFrom < got.progress[i-1].KeepFrom {
					t.Fatalf("%s: progress %v, want at most %v and not less than before", name, got.progress[i], want.progress[i])
				}
			}
		}
	}
}

// TestResumedStreamsFindWhatWasNotSettled breaks a practice while swings are
// out: a new machine, given the frames from keep_from on, finds them again.
func TestResumedStreamsFindWhatWasNotSettled(t *testing.T) {
	frames := drawn(5)
	for name, s := range map[string]Setup{"court": {Axes: camera.AxesCourt}, "clock unknown": {Axes: camera.AxesCamera}} {
		whole := play(t, s, frames).swings
		lost := 0
		for cut := 50; cut < len(frames); cut += 23 {
			m, err := New(s)
			if err != nil {
				t.Fatal(err)
			}
			m.settle = unsettled
			b, by := &book{}, slowly{}
			m.SettleBy(by)
			for i := range frames[:cut] {
				if err := m.Push(&frames[i], b); err != nil {
					t.Fatal(err)
				}
				for m.Unsettled() > 2 { // two are always out
					by.Wait(m.out[0])
					m.TakeBack(b)
				}
			}
			lost += m.Unsettled()
			keep := b.progress[len(b.progress)-1].KeepFrom
			second := play(t, s, frames[keep:]).swings
			if got := union(t, b.swings, second); !sameSheets(got, whole) {
				t.Fatalf("%s: cut at frame %d, resumed from %d: %v, want %v", name, cut, keep, contacts(t, got), contacts(t, whole))
			}
		}
		if lost < 20 {
			t.Errorf("%s: only %d swings were out when the streams broke", name, lost)
		}
	}
}
