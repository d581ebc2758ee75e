package client

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"sync"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Practice is one practice on its way to the service.
type Practice struct {
	config Config
	cancel context.CancelFunc
	done   chan struct{} // closed when the practice has ended
	err    error         // why; read after done

	mu       sync.Mutex
	queue    queue
	changed  chan struct{} // closed and replaced whenever the queue changes
	finished bool          // Finish was called
	tries    int           // in a row without an acknowledged frame

	fruitless int // connections in a row on which frames were taken, and none could be let go of

	given given
}

// Start begins a practice; it goes on until Finish has succeeded, ctx ends, or
// the service refuses it for good.
func Start(ctx context.Context, c Config) (*Practice, error) {
	c, err := c.withDefaults()
	if err != nil {
		return nil, err
	}
	ctx, cancel := context.WithCancel(ctx)
	p := &Practice{
		config: c, cancel: cancel, done: make(chan struct{}), changed: make(chan struct{}),
		given: newGiven(c.Open),
	}
	go func() {
		defer close(p.done)
		p.err = p.run(ctx)
	}()
	return p, nil
}

// Send hands over frames, each camera's in time order. It waits while too many
// are kept, and fails when the practice has ended.
func (p *Practice) Send(ctx context.Context, frames ...*pb.Frame) error {
	items := make([]item, len(frames))
	for i, f := range frames {
		items[i].frame = f
	}
	return p.add(ctx, items)
}

// Feed tells that a ball machine fed at an instant on the frames' clock.
func (p *Practice) Feed(ctx context.Context, timeUS int64) error {
	return p.add(ctx, []item{{feed: &pb.StreamPracticeRequest_FeedNotice{TimeUs: timeUS}}})
}

// Finish ends the practice and waits until every finding has been handled.
func (p *Practice) Finish(ctx context.Context) error {
	p.mu.Lock()
	p.finished = true
	p.wake()
	p.mu.Unlock()
	select {
	case <-p.done:
		return p.err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Close gives the practice up, if it has not ended, and waits for its goroutines.
func (p *Practice) Close() {
	p.cancel()
	<-p.done
}

// Kept returns how many frames are kept for the case of a broken connection.
func (p *Practice) Kept() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return len(p.queue.items)
}

// add queues items, as many at a time as there is room for.
func (p *Practice) add(ctx context.Context, items []item) error {
	for {
		p.mu.Lock()
		if p.finished {
			p.mu.Unlock()
			return errors.New("client: send after finish")
		}
		n := min(len(items), p.config.Keep-len(p.queue.items))
		for _, it := range items[:n] {
			p.queue.add(it)
		}
		if items = items[n:]; n > 0 {
			p.wake()
		}
		changed := p.changed
		p.mu.Unlock()
		if len(items) == 0 {
			return nil
		}
		select {
		case <-changed:
		case <-p.done:
			return p.ended()
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func (p *Practice) ended() error {
	if p.err != nil {
		return p.err
	}
	return errors.New("client: the practice has ended")
}

// wake tells everyone who waits that the queue has changed; p.mu is held.
func (p *Practice) wake() {
	close(p.changed)
	p.changed = make(chan struct{})
}

// run streams, target after target, until a good end.
func (p *Practice) run(ctx context.Context) error {
	for target := 0; ; target++ {
		err := p.once(ctx, p.config.Targets[target%len(p.config.Targets)])
		switch {
		case err == nil:
			return nil
		case ctx.Err() != nil:
			return ctx.Err()
		case !retriable(err):
			return err
		}
		p.config.Lost(err)
		p.mu.Lock()
		p.tries++
		tries := p.tries
		p.mu.Unlock()
		if tries >= p.config.Tries {
			return err
		}
		if err := pause(ctx, p.config, tries); err != nil {
			return err
		}
	}
}

// pause waits longer after each failure, spread so that many clients of a
// fallen server do not come back at one instant.
func pause(ctx context.Context, c Config, tries int) error {
	d := min(c.LastPause, c.FirstPause<<min(tries-1, 16))
	return sleep(ctx, d/2+rand.N(d/2+1))
}

// sleep waits for a time, or until ctx ends.
func sleep(ctx context.Context, d time.Duration) error {
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// retriable reports whether another stream may succeed where one failed: the
// connection or the server failed, and not what was said.
func retriable(err error) bool {
	s := status.Convert(err)
	switch s.Code() {
	case codes.Unavailable, codes.Canceled, codes.Unknown, codes.Internal, codes.Aborted, codes.DeadlineExceeded, codes.DataLoss:
		return true
	case codes.ResourceExhausted:
		return passing(s)
	}
	return false
}

// passing reports whether a limit holds for a while only, or for one stream.
func passing(s *status.Status) bool {
	for _, d := range s.Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok {
			switch info.Metadata["limit"] {
			case "streams", "stream_time", "stream_frames", "idle_time", "send_time":
				return true
			}
		}
	}
	return false
}

// once streams to one target until the stream ends; nil is the good end.
func (p *Practice) once(ctx context.Context, target string) error {
	conn, err := grpc.NewClient(target, append(windows(), p.config.Dial...)...)
	if err != nil {
		return err
	}
	defer conn.Close()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := pb.NewSwingAnalysisServiceClient(conn).StreamPractice(ctx)
	if err != nil {
		return err
	}
	p.mu.Lock()
	p.queue.restart()
	dropped, pace := p.queue.dropped, paceAfter(p.fruitless, rand.IntN(2) == 0)
	p.mu.Unlock()
	sent := make(chan struct{})
	go func() {
		defer close(sent)
		p.send(ctx, stream, pace)
	}()
	err = p.receive(stream)
	cancel()
	<-sent
	p.judge(dropped)
	return err
}

// judge counts the connection that has ended if it was fruitless; dropped is what
// had been let go of before it. One on which nothing was taken counts neither way.
func (p *Practice) judge(dropped int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	switch {
	case p.queue.dropped > dropped:
		p.fruitless = 0
	case p.queue.anyAcked():
		p.fruitless++
	}
}

// windows are how many bytes of findings may be on their way unread. Fixed, for a
// window that gRPC fits to the line costs a ping and its answer for every message; a
// stream's holds a minute of findings.
func windows() []grpc.DialOption {
	const stream, connection = 128 << 10, 256 << 10
	return []grpc.DialOption{grpc.WithStaticStreamWindowSize(stream), grpc.WithStaticConnWindowSize(connection)}
}

// practiceStream is this end of a StreamPractice call.
type practiceStream = pb.SwingAnalysisService_StreamPracticeClient

// send sends open, what is kept, what comes, and finish. An error of the
// stream shows at the receiving side.
func (p *Practice) send(ctx context.Context, to practiceStream, pace pace) {
	defer func() { _ = to.CloseSend() }()
	p.mu.Lock()
	open := p.given.open(p.queue.firstUS())
	p.mu.Unlock()
	if to.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: open}}) != nil {
		return
	}
	for {
		m, last, err := p.next(ctx)
		if err != nil || !pace.wait(ctx, m) || to.Send(m) != nil || last {
			return
		}
	}
}

// next waits for the next message to send; last is true for finish.
func (p *Practice) next(ctx context.Context) (m *pb.StreamPracticeRequest, last bool, err error) {
	for {
		p.mu.Lock()
		m := p.queue.message(p.config)
		if m == nil && p.finished && p.queue.allSent() {
			m, last = p.queue.finish(), true
		}
		changed := p.changed
		p.mu.Unlock()
		if m != nil {
			return m, last, nil
		}
		select {
		case <-changed:
		case <-ctx.Done():
			return nil, false, ctx.Err()
		}
	}
}

// receive hands findings on until the stream ends.
func (p *Practice) receive(from practiceStream) error {
	for {
		m, err := from.Recv()
		if errors.Is(err, io.EOF) {
			return p.goodEnd()
		}
		if err != nil {
			return err
		}
		if p.fresh(m) {
			p.config.Handle(m)
		}
	}
}

// goodEnd is nil when the server ended the stream after finish.
func (p *Practice) goodEnd() error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.queue.finishSent {
		return nil
	}
	return status.Error(codes.Unavailable, "the server ended the stream before finish")
}

// fresh takes note of a message and reports whether it is to be handed on.
func (p *Practice) fresh(m *pb.StreamPracticeResponse) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if ack := m.GetAck(); ack != nil {
		p.tries = 0
		p.queue.ack(ack)
		p.given.clock = ack.GetClock()
		p.wake()
		return !p.queue.replaying()
	}
	return p.given.fresh(m, p.queue.replaying())
}
