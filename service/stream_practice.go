package service

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"google.golang.org/grpc/metadata"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

// readingGap is the least time between two readings sent, on the frames' clock:
// about ten a second reach a display, allowing for the jitter of frames.
const readingGap = 90_000 // µs

// practiceStream is the server's end of one StreamPractice call.
type practiceStream = pb.SwingAnalysisService_StreamPracticeServer

// StreamPractice takes frames as they are captured and answers with findings
// as soon as they are certain.
func (s *Server) StreamPractice(stream practiceStream) error {
	if err := s.streams.try("streams", "practices at once"); err != nil {
		return statusError(err)
	}
	defer s.streams.free()
	if err := stream.SendHeader(metadata.MD{}); err != nil {
		return err
	}
	in, out := newInbox(stream, s.config.Limits), newOutbox(stream, s.config.Limits.SendTime)
	err := s.practice(in, out)
	return statusError(firstError(out.flush(), err))
}

// practice is the life of a stream: open, any number of batches and notices, finish.
func (s *Server) practice(in *inbox, out *outbox) error {
	req, err := in.next(s.guard, nil)
	if err != nil {
		return cutOff(err)
	}
	open := req.GetOpen()
	if open == nil {
		return wire.Problems{{Field: "open", Description: "must be the first message"}}
	}
	p, err := s.begin(in.ctx, open, out)
	if err != nil {
		return err
	}
	if err = p.play(in, s.guard); err != nil && !p.deaf {
		p.takeAll(&p.found) // what was handed out by then is sent all the same
		return firstError(p.send(), err)
	}
	return err
}

// play takes messages until finish, and sends swings as they are settled.
func (p *livePractice) play(in *inbox, g guard) error {
	for {
		if err := p.holdBack(in.ctx); err != nil {
			return err
		}
		req, err := in.next(g, p.settling.ready())
		switch {
		case err != nil:
			return cutOff(err)
		case req == nil:
			p.takeBack(&p.found)
			err = p.send()
		case req.GetFinish() != nil:
			return p.finish(req.GetFinish())
		default:
			err = p.take(req)
		}
		if err != nil {
			return err
		}
	}
}

// firstError returns the first of two errors that is one.
func firstError(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// cutOff names an end of the stream that is no finish for what it is.
func cutOff(err error) error {
	if errors.Is(err, io.EOF) {
		return lost(ReasonCutOff, "the stream was cut off: it ended without finish; swings settled by then have been sent")
	}
	return err
}

// livePractice is one open stream.
type livePractice struct {
	*session
	limits Limits
	took   func(stage string, seconds float64) // Config.Took; may be nil
	out    *outbox
	deaf   bool // the client takes nothing any more
	found  liveFindings
	taken  int64 // frames of all cameras
}

// begin answers open.
func (s *Server) begin(ctx context.Context, open *pb.StreamPracticeRequest_Open, out *outbox) (*livePractice, error) {
	if err := exceeds("recent_cues", int64(len(open.GetRecentCues())), maxOpenCues, "names of recent cues"); err != nil {
		return nil, err
	}
	clock, err := wire.Clock(open.GetClock(), "open.clock")
	if err != nil {
		return nil, err
	}
	ses, err := s.open(ctx, live, open.GetSetup(), clock, "open.setup")
	if err != nil {
		return nil, err
	}
	recent := open.GetRecentCues()
	ses.history.Recent = slices.Clone(recent[max(0, len(recent)-maxRecent):])
	ses.history.SwingsSoFar = open.GetSwingsSoFar()
	p := &livePractice{session: ses, limits: s.config.Limits, took: s.config.Took, out: out}
	p.found = newLiveFindings(ses)
	p.found.add(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Opened_{
		Opened: &pb.StreamPracticeResponse_Opened{ServerVersion: s.config.Version},
	}})
	for _, w := range ses.warnings {
		p.found.Warning(w)
	}
	return p, p.send()
}

// maxOpenCues bounds what open may carry; only the newest maxRecent count.
const maxOpenCues = 1024

// take does what one message between open and finish asks.
func (p *livePractice) take(req *pb.StreamPracticeRequest) error {
	switch m := req.GetMessage().(type) {
	case *pb.StreamPracticeRequest_Frames:
		return p.frames(m.Frames)
	case *pb.StreamPracticeRequest_Feed:
		return p.feed(m.Feed)
	case *pb.StreamPracticeRequest_Open_:
		return wire.Problems{{Field: "open", Description: "must be the first message only"}}
	}
	return wire.Problems{{Field: "message", Description: "is required: open, frames, feed or finish"}}
}

// frames pushes a batch and sends what it showed, also when a frame is unfit:
// what the frames before it gave must not be lost.
func (p *livePractice) frames(batch *pb.StreamPracticeRequest_FrameBatch) error {
	n := frameCount(batch.GetFrames(), batch.GetBlocks())
	if err := exceeds("batch_frames", n, int64(p.limits.BatchFrames), "frames in a batch"); err != nil {
		return err
	}
	p.taken += n
	if err := exceeds("stream_frames", p.taken, p.limits.StreamFrames, "frames in a stream"); err != nil {
		return err
	}
	before := slices.Clone(p.decoder.Taken)
	begin := time.Now()
	err := p.batch(batch)
	if p.took != nil {
		p.took("push", time.Since(begin).Seconds())
	}
	p.found.acks(before, p.decoder.Taken)
	return firstError(p.send(), err)
}

func (p *livePractice) batch(batch *pb.StreamPracticeRequest_FrameBatch) error {
	if err := p.push(batch.GetFrames(), "frames.frames", 0, &p.found); err != nil {
		return err
	}
	for i, b := range batch.GetBlocks() {
		if err := p.block(b, fmt.Sprintf("frames.blocks[%d]", i), &p.found); err != nil {
			return err
		}
	}
	return nil
}

// feedTaker is a machine that wants to know when a ball was fed. In the one of
// package swing it changes provisional findings alone: what a stream settles must
// be what its recording settles, and a recording holds no notices.
type feedTaker interface{ Feed(timeUS int64) }

func (p *livePractice) feed(f *pb.StreamPracticeRequest_FeedNotice) error {
	if err := wire.Time(f.GetTimeUs(), "feed.time_us"); err != nil {
		return err
	}
	if m, ok := p.machine.(feedTaker); ok {
		m.Feed(f.GetTimeUs())
	}
	return nil
}

// finish settles what is open, sends it, and then says whether all frames came.
func (p *livePractice) finish(f *pb.StreamPracticeRequest_Finish) error {
	var err error
	p.found.given = func() { err = firstError(err, p.send()) } // the first does not wait for the last
	p.session.finish(&p.found)
	return firstError(firstError(err, p.send()), counted(f.GetFrames(), p.decoder.Taken))
}

// counted compares the frames that the client says it sent with those taken.
func counted(said, taken []uint32) error {
	if len(said) > len(taken) {
		return wire.Problems{{Field: "finish.frames", Description: fmt.Sprintf("has %d cameras; the setup has %d", len(said), len(taken))}}
	}
	for i, n := range said {
		switch {
		case taken[i] < n:
			return lost(ReasonFramesLost, fmt.Sprintf("camera %d: %d frames were sent, %d came", i, n, taken[i]))
		case taken[i] > n:
			return wire.Problems{{Field: fmt.Sprintf("finish.frames[%d]", i), Description: fmt.Sprintf("says %d, but %d came", n, taken[i])}}
		}
	}
	return nil
}

// send hands everything found so far to the writer.
func (p *livePractice) send() error {
	if p.deaf {
		return nil
	}
	if len(p.found.ready) == 0 {
		return nil
	}
	if err := p.out.send(p.found.ready); err != nil {
		p.deaf = true
		return err
	}
	p.found.ready = make([]*pb.StreamPracticeResponse, 0, cap(p.found.ready)) // the writer has the other
	return nil
}

// liveFindings turns what the machine finds into messages, in order.
type liveFindings struct {
	session *session
	ready   []*pb.StreamPracticeResponse
	given   func() // called after each swing; may be nil

	keep        []uint32 // for each camera, what the machine may still need
	clock       swing.Clock
	lastReading int64 // µs
}

func newLiveFindings(s *session) liveFindings {
	return liveFindings{session: s, keep: make([]uint32, len(s.decoder.Taken)), lastReading: -1 << 62}
}

func (l *liveFindings) add(m *pb.StreamPracticeResponse) { l.ready = append(l.ready, m) }

// Event adds a provisional event or its withdrawal.
func (l *liveFindings) Event(e swing.LiveEvent) {
	l.add(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Event{Event: wire.LiveEvent(e)}})
}

// Reading adds a reading unless one was added just before.
func (l *liveFindings) Reading(r swing.Reading) {
	if r.TimeUS-l.lastReading < readingGap {
		return
	}
	l.lastReading = r.TimeUS
	l.add(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Reading_{Reading: wire.Reading(r)}})
}

// Swing adds a settled swing with its cues.
func (l *liveFindings) Swing(s *measure.Sheet) {
	l.add(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Swing{Swing: l.session.swing(s)}})
	if l.given != nil {
		l.given()
	}
}

// Warning adds a warning.
func (l *liveFindings) Warning(w measure.Warning) {
	l.add(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Warning{Warning: wire.Warning(w)}})
}

// Progress notes from which frame on a camera's frames may still be needed.
func (l *liveFindings) Progress(p swing.Progress) {
	if int(p.Camera) < len(l.keep) {
		l.keep[p.Camera] = p.KeepFrom
	}
	l.clock = p.Clock
}

// acks adds an Ack for each camera that delivered since before.
func (l *liveFindings) acks(before, taken []uint32) {
	for i, n := range taken {
		if n == before[i] {
			continue
		}
		l.add(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Ack_{
			Ack: &pb.StreamPracticeResponse_Ack{Camera: uint32(i), Received: n, KeepFrom: l.keep[i], Clock: wire.SettledClock(l.clock)},
		}})
	}
}

// --- the two ends of the transport ------------------------------------------

// inbox reads a stream in a goroutine of its own, so that waiting can end.
// The goroutine ends with the call's context.
type inbox struct {
	messages chan received
	ctx      context.Context // the call's
	limits   Limits
	end      time.Time
	since    time.Time   // when the wait for the next message began; zero: it has not
	timer    *time.Timer // of that wait
}

type received struct {
	req *pb.StreamPracticeRequest
	err error
}

func newInbox(stream practiceStream, l Limits) *inbox {
	in := &inbox{
		messages: make(chan received), ctx: stream.Context(), limits: l,
		end: time.Now().Add(l.StreamTime), timer: time.NewTimer(l.IdleTime),
	}
	go func() {
		for {
			req, err := stream.Recv()
			select {
			case in.messages <- received{req, err}:
			case <-in.ctx.Done():
				return
			}
			if err != nil {
				return
			}
		}
	}()
	return in
}

// next waits for a message, or until ready is closed: then it returns neither a
// message nor an error. It fails with io.EOF at the client's end.
func (in *inbox) next(g guard, ready <-chan struct{}) (*pb.StreamPracticeRequest, error) {
	now := time.Now()
	if in.since.IsZero() {
		in.since = now
	}
	left, idle := in.end.Sub(now), in.since.Add(in.limits.IdleTime).Sub(now)
	in.timer.Reset(min(left, idle))
	defer in.timer.Stop()
	select {
	case m := <-in.messages:
		in.since = time.Time{}
		if m.err != nil {
			return nil, m.err
		}
		return m.req, g.refused(m.req)
	case <-ready:
		return nil, nil
	case <-in.ctx.Done():
		return nil, in.ctx.Err()
	case <-in.timer.C:
		if left < idle {
			return nil, &wire.LimitError{Limit: "stream_time", Most: int64(in.limits.StreamTime.Seconds()), Unit: "seconds for one stream"}
		}
		return nil, &wire.LimitError{Limit: "idle_time", Most: int64(in.limits.IdleTime.Seconds()), Unit: "seconds between two messages"}
	}
}

// outbox writes to a stream in a goroutine of its own, so that a reader who
// takes nothing is let go. It holds few messages: a slow reader holds the
// machine, and through it the sender, not the server's memory.
type outbox struct {
	parts chan []*pb.StreamPracticeResponse // what one message of the client led to
	done  chan struct{}                     // closed when the goroutine has ended
	err   error                             // why it ended; read after done
	wait  time.Duration
	timer *time.Timer
}

// outboxSize is how many parts may wait: 0.5 s of a practice with 8 frames a message.
const outboxSize = 4

func newOutbox(stream practiceStream, wait time.Duration) *outbox {
	out := &outbox{
		parts: make(chan []*pb.StreamPracticeResponse, outboxSize), done: make(chan struct{}),
		wait: wait, timer: time.NewTimer(wait),
	}
	out.timer.Stop()
	go func() {
		defer close(out.done)
		out.err = out.write(stream)
	}()
	return out
}

// write sends what is handed over until there is no more.
func (o *outbox) write(stream practiceStream) error {
	for {
		select {
		case part, more := <-o.parts:
			if !more {
				return nil
			}
			for _, m := range part {
				if err := stream.Send(m); err != nil {
					return err
				}
			}
		case <-stream.Context().Done(): // the call has ended, perhaps by a panic
			return stream.Context().Err()
		}
	}
}

// send hands messages over, which are the outbox's from then on. It waits for a slow
// reader no longer than allowed.
func (o *outbox) send(part []*pb.StreamPracticeResponse) error {
	select {
	case o.parts <- part:
		return nil
	default:
	}
	o.timer.Reset(o.wait)
	defer o.timer.Stop()
	select {
	case o.parts <- part:
		return nil
	case <-o.done:
		return o.err
	case <-o.timer.C:
		return o.tooSlow()
	}
}

func (o *outbox) tooSlow() error {
	return &wire.LimitError{Limit: "send_time", Most: int64(o.wait.Seconds()), Unit: "seconds for the client to take a message"}
}

// flush waits until everything handed over is written.
func (o *outbox) flush() error {
	close(o.parts)
	o.timer.Reset(o.wait)
	defer o.timer.Stop()
	select {
	case <-o.done:
		return o.err
	case <-o.timer.C:
		return o.tooSlow()
	}
}
