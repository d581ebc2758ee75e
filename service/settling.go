package service

import (
	"context"
	"time"

	"example.com/courtkin/service/swing"
)

// streamUnsettled is how many swings of one stream may be on their way to being
// settled. A practice at true speed has one; a stream that comes faster than its
// swings can be settled waits for them.
const streamUnsettled = 4

// runAhead is how far, on the frames' clock, a practice may run ahead of true time while
// one of its swings is on its way to being settled. A client that resends at full speed what it
// kept, over a line that breaks after so many bytes, would have spent them before the swing is
// settled, each time anew: so the server reads no further meanwhile, and through the transport's
// windows the client stops. At true speed nothing is held, however long a swing takes, nor is a
// stream that came late, on a machine or a line that was busy, and only makes up for it.
const runAhead = time.Second

// deferring is a machine that hands its swings' windows out. One that does not,
// settles in Push.
type deferring interface {
	SettleBy(swing.Settler)
	Unsettled() int
	TakeBack(swing.Sink)
}

// settling is the way of one machine's swings through the pool and back. It
// belongs to the goroutine that pushes.
type settling struct {
	pool  *pool
	ctx   context.Context // of the call
	class class
	most  int // tasks out that are not at their end

	us     int64  // the frames' clock: of the latest frame
	opened handed // when the first frame came

	tasks []*task // handed out and not taken back, oldest first
	jobs  []swing.Job
	begun []handed
}

// handed is when a swing was handed out, or a stream opened.
type handed struct {
	us int64     // on the frames' clock
	at time.Time // on the server's
}

// ahead returns for how long no more frames are to be taken, unless the oldest swing that is out is
// settled before: until true time, as it went on since the stream opened or since that swing was
// handed out, has come within runAhead of the frames'. 0 and less: not at all.
func (s *settling) ahead(now time.Time) time.Duration {
	if len(s.begun) == 0 {
		return 0
	}
	return min(s.ranAhead(s.opened, now), s.ranAhead(s.begun[0], now)) - runAhead
}

// ranAhead returns how much further the frames' clock has gone than true time since then.
func (s *settling) ranAhead(since handed, now time.Time) time.Duration {
	return time.Duration(s.us-since.us)*time.Microsecond - now.Sub(since.at)
}

// hear takes note of a frame's time.
func (s *settling) hear(us int64) {
	if s.opened.at.IsZero() {
		s.us, s.opened = us, handed{us, time.Now()}
	}
	s.us = max(s.us, us)
}

func newSettling(ctx context.Context, p *pool, c class) *settling {
	s := &settling{pool: p, ctx: ctx, class: c, most: streamUnsettled}
	if c == clip {
		s.most = p.workers + 1 // one waits for each worker to be free
	}
	return s
}

// Settle hands a window to the pool. It waits while as many as may are out.
func (s *settling) Settle(j swing.Job) {
	if n := len(s.tasks); n >= s.most {
		s.tasks[n-s.most].wait() // those before it were waited for at earlier windows
	}
	t, err := s.pool.submit(s.ctx, s.class, j.Do)
	if err != nil { // nobody waits any more
		t = &task{ctx: s.ctx}
	}
	s.tasks, s.jobs, s.begun = append(s.tasks, t), append(s.jobs, j), append(s.begun, handed{s.us, time.Now()})
}

// Wait waits for a job. One that is not out any more has come back.
func (s *settling) Wait(j swing.Job) bool {
	for i := range s.jobs {
		if s.jobs[i] == j {
			return s.tasks[i].wait()
		}
	}
	return true
}

// ready is closed when the oldest window that is out has been settled; nil when none is out.
func (s *settling) ready() <-chan struct{} {
	if len(s.tasks) == 0 {
		return nil
	}
	return s.tasks[0].done
}

// forget drops what the machine has taken back; left are out.
func (s *settling) forget(left int) {
	n := len(s.tasks) - left
	clear(s.tasks[:n])
	clear(s.jobs[:n])
	s.tasks, s.jobs, s.begun = s.tasks[n:], s.jobs[n:], s.begun[n:]
}

// takeBack hands on the swings that have been settled since, in their order.
func (s *session) takeBack(to swing.Sink) {
	for len(s.settling.tasks) > 0 {
		select {
		case <-s.settling.tasks[0].done:
			if !s.takeFirst(to) {
				return
			}
		default:
			return
		}
	}
}

// takeAll waits for all swings that are out and hands them on.
func (s *session) takeAll(to swing.Sink) {
	for len(s.settling.tasks) > 0 && s.settling.tasks[0].wait() && s.takeFirst(to) {
	}
}

// takeFirst hands on the oldest swing that is out, its task at its end.
func (s *session) takeFirst(to swing.Sink) bool {
	if !s.settling.tasks[0].ended() {
		return false
	}
	m := s.machine.(deferring)
	m.TakeBack(to)
	s.settling.forget(m.Unsettled())
	return true
}

// holdBack waits while the frames run too far ahead of true time with a swing on its way, and hands
// on what is settled meanwhile.
func (p *livePractice) holdBack(ctx context.Context) error {
	for {
		hold := p.settling.ahead(time.Now())
		if hold <= 0 {
			return nil
		}
		timer := time.NewTimer(hold)
		select {
		case <-p.settling.ready():
			timer.Stop()
			p.takeBack(&p.found)
			if err := p.send(); err != nil {
				return err
			}
		case <-timer.C:
		case <-ctx.Done():
			timer.Stop()
			return ctx.Err()
		}
	}
}
