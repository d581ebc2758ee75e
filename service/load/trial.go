package load

import (
	"context"
	"sync"
	"time"
)

// Trial is one run of a number of players.
type Trial struct {
	Players int
	Rounds  int           // practices that each player plays, one after the other
	Ramp    time.Duration // over which the players begin
}

// Result is what a trial showed.
type Result struct {
	Players   int
	Took      time.Duration
	Played    time.Duration // over all players
	Frames    int64
	PerSecond float64 // frames, over all players, while they played
	PerBatch  float64 // frames in a message, as the server saw it
	Late      time.Duration
	Up, Down  float64 // bytes a second of a player

	Ack     Delays // a message handed over to its acknowledgement received
	Contact Delays // the message that shows CONTACT handed over to the event received
	Instant Delays // the instant of CONTACT to the event received: with capture, batching and the look ahead
	Swing   Delays // the message with the first frame after a swing's window handed over to the swing received

	Practices, Failed                       int
	Failures                                []string
	Expected, Found, Lost, Doubled, Strange int64
	Breaks                                  int64

	Server, Tool Usage // of the processes, over the trial; Server is zero where it cannot be seen
}

// Well reports whether a trial lost nothing, doubled nothing and broke nothing.
func (r *Result) Well() bool {
	return r.Failed == 0 && r.Lost == 0 && r.Doubled == 0 && r.Strange == 0 && r.Breaks == 0
}

// Run plays a trial. server is looked at for its use of the machine; nil: not.
func Run(ctx context.Context, to Target, scripts []*Script, t Trial, server *Process) *Result {
	sum := &tally{}
	serverBefore, toolBefore := server.usage(), self.usage()
	begin := time.Now()
	var group sync.WaitGroup
	for i := range t.Players {
		group.Go(func() {
			if err := sleepUntil(ctx, time.NewTimer(0), begin.Add(t.Ramp*time.Duration(i)/time.Duration(t.Players))); err != nil {
				sum.fail(err)
				return
			}
			for round := range t.Rounds {
				p := &player{target: to, script: scripts[(i+round)%len(scripts)], tally: sum}
				if err := p.play(ctx); err != nil {
					sum.fail(err)
					return
				}
			}
		})
	}
	peak := server.watch(ctx, &group)
	r := sum.result(t.Players, time.Since(begin))
	r.Server, r.Tool = server.usage().less(serverBefore), self.usage().less(toolBefore)
	r.Server.Memory = max(peak, r.Server.Memory)
	return r
}

// result reads the tally.
func (t *tally) result(players int, took time.Duration) *Result {
	played := time.Duration(t.played.Load())
	seconds := max(played.Seconds(), 1e-9)
	r := &Result{
		Players: players, Took: took, Played: played, Frames: t.frames.Load(),
		PerSecond: float64(t.frames.Load()) / seconds * float64(players),
		Late:      time.Duration(t.late.Load()),
		Up:        float64(t.up.Load()) / seconds, Down: float64(t.down.Load()) / seconds,
		Ack: t.ack.delays(), Contact: t.contact.delays(), Instant: t.instant.delays(), Swing: t.swing.delays(),
		Practices: int(t.practices.Load()), Failed: t.failed, Failures: t.failures,
		Expected: t.expected.Load(), Found: t.found.Load(),
		Lost: t.lost.Load(), Doubled: t.doubled.Load(), Strange: t.odd.Load(), Breaks: t.breaks.Load(),
	}
	if n := t.messages.Load(); n > 0 {
		r.PerBatch = float64(r.Frames) / float64(n)
	}
	return r
}
