package client

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/fault"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
)

func batchAt(us int64) *pb.StreamPracticeRequest {
	b := &pb.StreamPracticeRequest_FrameBatch{Frames: []*pb.Frame{{TimeUs: us}}}
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: b}}
}

// TestPaceSlowsDown sends 64 s of frames: at once after one fruitless connection or
// on a fast try, and ever slower on slow ones, never slower than twice true speed.
func TestPaceSlowsDown(t *testing.T) {
	for _, c := range []struct {
		fruitless int
		slow      bool
		want      time.Duration
	}{
		{0, true, 0}, {1, true, 0}, {9, false, 0},
		{2, true, 2 * time.Second}, {3, true, 2 * time.Second}, {4, true, 4 * time.Second}, {8, true, 16 * time.Second},
		{10, true, 32 * time.Second}, {1 << 30, true, 32 * time.Second},
	} {
		synctest.Test(t, func(t *testing.T) {
			p, begin := paceAfter(c.fruitless, c.slow), time.Now()
			for us := int64(5_000_000); us <= 69_000_000; us += 16_000_000 / 64 {
				if !p.wait(t.Context(), batchAt(us)) {
					t.Fatal("ended")
				}
			}
			if got := time.Since(begin); got != c.want {
				t.Errorf("%d fruitless, slow %v: 64 s took %v, want %v", c.fruitless, c.slow, got, c.want)
			}
		})
	}
}

// TestPaceOutlivesBadClocks meets a clock that jumps by an hour either way, blocks,
// messages without frames, and an end while it waits.
func TestPaceOutlivesBadClocks(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p, begin := paceAfter(20, true), time.Now()
		block := &pb.StreamPracticeRequest_FrameBatch{Blocks: []*pb.FrameBlock{{FirstTimeUs: 3_600_000_000}}}
		for _, m := range []*pb.StreamPracticeRequest{
			batchAt(0), {Message: &pb.StreamPracticeRequest_Frames{Frames: block}}, batchAt(-3_600_000_000),
			{Message: &pb.StreamPracticeRequest_Finish_{Finish: &pb.StreamPracticeRequest_Finish{}}},
			{Message: &pb.StreamPracticeRequest_Frames{}},
		} {
			if !p.wait(t.Context(), m) {
				t.Fatal("ended")
			}
		}
		if got := time.Since(begin); got != longestHold {
			t.Errorf("it took %v, want one hold of %v", got, longestHold)
		}
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(time.Millisecond, cancel)
		if p.wait(ctx, batchAt(7_200_000_000)) {
			t.Error("a wait outlived its context")
		}
	})
}

// settlesLate is a machine whose swings come a while after their windows, on the
// wall's clock, as those of a busy server do.
type settlesLate struct {
	summing
	open []late
}

type late struct {
	sheet *measure.Sheet
	first uint32 // of its window's frames
	due   time.Time
}

func (m *settlesLate) Push(f *body.Frame, to swing.Sink) error {
	if err := m.summing.Push(f, withheld{to, m, f.Index + 1 - window}); err != nil {
		return err
	}
	for len(m.open) > 0 && time.Now().After(m.open[0].due) {
		to.Swing(m.open[0].sheet)
		m.open = m.open[1:]
	}
	keep := f.Index + 1 - (f.Index+1)%window
	if len(m.open) > 0 {
		keep = m.open[0].first
	}
	to.Progress(swing.Progress{KeepFrom: keep})
	return nil
}

func (m *settlesLate) Finish(to swing.Sink) {
	for _, l := range m.open {
		to.Swing(l.sheet)
	}
}

// withheld holds a machine's swings back.
type withheld struct {
	swing.Sink
	machine *settlesLate
	first   uint32
}

func (w withheld) Swing(s *measure.Sheet) {
	w.machine.open = append(w.machine.open, late{s, w.first, time.Now().Add(50 * time.Millisecond)})
}

func (w withheld) Progress(swing.Progress) {}

// TestLinesThatBreakSoonBringSomething streams over lines of few bytes to servers
// that settle late: sent as fast as they go, the bytes are over before any swing is.
func TestLinesThatBreakSoonBringSomething(t *testing.T) {
	r := newReplica(t, nil)
	r.kill()
	r.config.NewMachine = func(swing.Setup) (service.Machine, error) { return &settlesLate{}, nil }
	r.start()
	p, err := fault.NewProxy(r.address, fault.Harm{CutAfter: func() int { return 5000 }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.Close)
	n := &notes{}
	c := config(n, r)
	c.Targets, c.Window = []string{p.Address()}, 32
	breaks := 0
	c.Lost = func(err error) {
		if breaks++; status.Code(err) != codes.Unavailable {
			t.Errorf("lost by %v", err)
		}
	}
	play(t, c, 12, func(int) {})
	if got := n.swings(); len(got) != 12 || p.Hurt() == 0 {
		t.Errorf("%d swings of 12 over lines of which %d broke: %v", len(got), p.Hurt(), got)
	}
	if breaks > 500 { // some 15; 8,000 at full speed
		t.Errorf("%d breaks", breaks)
	}
}
