package service

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"example.com/courtkin/service/swing"
)

// takenBack is a machine with one swing out.
type takenBack struct {
	Machine
	out int
}

func (m *takenBack) SettleBy(swing.Settler) {}
func (m *takenBack) Unsettled() int         { return m.out }
func (m *takenBack) TakeBack(swing.Sink)    { m.out = 0 }

// TestFramesDoNotRunAheadOfASwing: a practice whose frames come faster than true time waits for its
// swing, or for true time; at true speed, or with no swing out, it does not. The clock is the test's own.
func TestFramesDoNotRunAheadOfASwing(t *testing.T) {
	for _, c := range []struct {
		name    string
		out     bool
		frames  time.Duration // on the frames' clock since the swing was handed out
		passed  time.Duration // on the server's
		settled time.Duration // from then on; 0: never
		late    time.Duration // by how much the stream had fallen behind when the swing was handed out
		want    time.Duration // of waiting
	}{
		{"no swing out", false, time.Hour, 0, 0, 0, 0},
		{"true speed", true, 9 * time.Second, 9 * time.Second, 0, 0, 0},
		{"a second ahead", true, 10 * time.Second, 9 * time.Second, 0, 0, 0},
		{"three ahead, not settled", true, 12 * time.Second, 9 * time.Second, 0, 0, 2 * time.Second},
		{"three ahead, settled soon", true, 12 * time.Second, 9 * time.Second, 30 * time.Millisecond, 0, 30 * time.Millisecond},
		{"a clock that jumps", true, 24 * time.Hour, 0, 30 * time.Millisecond, 0, 30 * time.Millisecond},
		{"behind", true, 0, 9 * time.Second, 0, 0, 0},
		{"makes up for three", true, 12 * time.Second, 9 * time.Second, 0, 3 * time.Second, 0},
		{"makes up for one and runs on", true, 12 * time.Second, 9 * time.Second, 0, time.Second, time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newSettling(t.Context(), newPool(1, nil), live)
				s.hear(4_000_000)
				time.Sleep(time.Second + c.late)
				m := &takenBack{}
				p := &livePractice{session: &session{settling: s, machine: m}}
				work := &task{ctx: t.Context(), done: make(chan struct{})}
				if c.out {
					m.out = 1
					s.tasks, s.jobs, s.begun = []*task{work}, []swing.Job{nil}, []handed{{us: 5_000_000, at: time.Now()}}
				}
				s.hear(5_000_000 + c.frames.Microseconds())
				time.Sleep(c.passed)
				if c.settled > 0 {
					time.AfterFunc(c.settled, func() { work.ran = true; close(work.done) })
				}
				begin := time.Now()
				if err := p.holdBack(t.Context()); err != nil {
					t.Fatal(err)
				}
				if got := time.Since(begin); got != c.want {
					t.Errorf("held for %v, want %v", got, c.want)
				}
				if left := len(s.begun); (c.settled > 0 || !c.out) != (left == 0) || left != len(s.tasks) || left != m.out {
					t.Errorf("%d begun, %d tasks, %d out", left, len(s.tasks), m.out)
				}
			})
		})
	}
	t.Run("a call that ends", func(t *testing.T) {
		synctest.Test(t, func(t *testing.T) {
			ctx, cancel := context.WithTimeout(t.Context(), time.Second)
			defer cancel()
			s := newSettling(ctx, newPool(1, nil), live)
			p := &livePractice{session: &session{settling: s, machine: &takenBack{out: 1}}}
			s.tasks, s.jobs, s.begun = []*task{{ctx: ctx, done: make(chan struct{})}}, []swing.Job{nil}, []handed{{at: time.Now()}}
			s.hear(0)
			s.hear(time.Hour.Microseconds())
			if err := p.holdBack(ctx); !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%v", err)
			}
		})
	})
}
