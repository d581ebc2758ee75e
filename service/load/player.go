package load

import (
	"context"
	"crypto/tls"
	"net"
	"time"

	"google.golang.org/grpc"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/client"
)

// Target is what players stream to.
type Target struct {
	Address   string            // gRPC target, or the HTTP address for a WebSocket
	WebSocket bool              // else gRPC
	Dial      []grpc.DialOption // credentials and the like, for gRPC
	TLS       *tls.Config       // for the WebSocket; nil: plain
	Header    map[string]string // for the WebSocket's opening request
	Batch     int               // frames a message, 1 to 32
	Compact   bool              // blocks in place of plain frames
}

// player plays one practice and notes when what was said came.
type player struct {
	target Target
	script *Script
	tally  *tally

	begin  time.Time // when the script's first frame is captured
	handed []int64   // for each frame: ns after begin when its message was handed over; written before it is sent

	// touched by the receiving side alone
	broken  bool     // delays are not noted after a break: counts begin anew
	acked   int      // frames acknowledged
	swings  []string // ids, as they came
	waiting []arrival
}

// arrival is an event that came; the acknowledgement that follows tells by
// which frames it was found.
type arrival struct {
	at      time.Duration // after begin
	instant int64         // µs on the frames' clock
}

// play streams the script once.
func (p *player) play(ctx context.Context) error {
	p.begin = time.Now()
	p.handed = make([]int64, len(p.script.Frames))
	var err error
	if p.target.WebSocket {
		err = p.overSocket(ctx)
	} else {
		err = p.overGRPC(ctx)
	}
	p.tally.played.Add(int64(time.Since(p.begin)))
	if err != nil {
		return err
	}
	p.tally.practices.Add(1)
	p.tally.hold(p.script.Swings, p.swings)
	return nil
}

func (p *player) overGRPC(ctx context.Context) error {
	practice, err := client.Start(ctx, client.Config{
		Targets: []string{p.target.Address},
		Dial:    append(append([]grpc.DialOption{}, p.target.Dial...), grpc.WithContextDialer(p.dial), p.script.codec()),
		Open:    p.script.open(), Handle: p.take, Batch: p.target.Batch, Compact: p.target.Compact,
		Lost: func(error) { p.tally.breaks.Add(1); p.broken = true },
	})
	if err != nil {
		return err
	}
	defer practice.Close()
	err = p.paced(ctx, func(frames []*pb.Frame) error { return practice.Send(ctx, frames...) })
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if end := practice.Finish(ctx); end != nil {
		return end
	}
	return err
}

// paced hands over messages when their last frame has been captured.
func (p *player) paced(ctx context.Context, send func([]*pb.Frame) error) error {
	frames := p.script.Frames
	timer := time.NewTimer(0)
	defer timer.Stop()
	for n := 0; n < len(frames); n += p.target.Batch {
		part := frames[n:min(n+p.target.Batch, len(frames))]
		due := p.capture(part[len(part)-1])
		if err := sleepUntil(ctx, timer, p.begin.Add(due)); err != nil {
			return err
		}
		now := time.Since(p.begin)
		p.tally.lag(now - due)
		for i := range part {
			p.handed[n+i] = int64(now)
		}
		if err := send(part); err != nil {
			return err
		}
		p.tally.frames.Add(int64(len(part)))
	}
	return nil
}

// capture is when a frame is captured, after begin.
func (p *player) capture(f *pb.Frame) time.Duration {
	return time.Duration(f.GetTimeUs()-p.script.Frames[0].GetTimeUs()) * time.Microsecond
}

func sleepUntil(ctx context.Context, timer *time.Timer, at time.Time) error {
	timer.Reset(time.Until(at))
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// take notes what the server says.
func (p *player) take(m *pb.StreamPracticeResponse) {
	now := time.Since(p.begin)
	switch m := m.GetMessage().(type) {
	case *pb.StreamPracticeResponse_Swing:
		p.swings = append(p.swings, m.Swing.GetId())
		if !p.broken {
			p.tally.swing.add(now - time.Duration(p.handed[p.after(m.Swing)]))
		}
	case *pb.StreamPracticeResponse_Event:
		if m.Event.GetKind() == pb.EventKind_EVENT_KIND_CONTACT && m.Event.GetCertainty() == pb.Certainty_CERTAINTY_PROVISIONAL {
			p.waiting = append(p.waiting, arrival{at: now, instant: m.Event.GetTimeUs()})
		}
	case *pb.StreamPracticeResponse_Ack_:
		p.tally.messages.Add(1)
		p.settle(int(m.Ack.GetReceived()), now)
	}
}

// settle notes the delays of a message's findings once its acknowledgement
// tells which message it was.
func (p *player) settle(received int, now time.Duration) {
	if received > p.acked && received <= len(p.handed) && !p.broken {
		handed := time.Duration(p.handed[received-1])
		p.tally.ack.add(now - handed)
		for _, w := range p.waiting {
			p.tally.contact.add(w.at - handed)
			p.tally.instant.add(w.at - time.Duration(w.instant-p.script.Frames[0].GetTimeUs())*time.Microsecond)
		}
		p.acked = received
	}
	p.waiting = p.waiting[:0]
}

// after is the place of the first frame after a swing's window, with which its
// settling begins; of the last frame for a window that the practice's end closes.
func (p *player) after(s *pb.Swing) int { return min(int(s.GetLastFrame())+1, len(p.handed)-1) }

// dial connects and counts bytes both ways.
func (p *player) dial(ctx context.Context, address string) (net.Conn, error) {
	conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", address)
	if err != nil {
		return nil, err
	}
	return counted{conn, p.tally}, nil
}

// counted is a connection whose bytes are counted.
type counted struct {
	net.Conn
	tally *tally
}

func (c counted) Read(b []byte) (int, error) {
	n, err := c.Conn.Read(b)
	c.tally.down.Add(int64(n))
	return n, err
}

func (c counted) Write(b []byte) (int, error) {
	n, err := c.Conn.Write(b)
	c.tally.up.Add(int64(n))
	return n, err
}
