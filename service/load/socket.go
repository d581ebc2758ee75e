package load

import (
	"context"
	"errors"
	"net"
	"net/http"

	"github.com/coder/websocket"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/wire"
)

// overSocket plays the script over a WebSocket of binary messages. It does not
// resume: a break is a failure here.
func (p *player) overSocket(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	header := http.Header{}
	for k, v := range p.target.Header {
		header.Set(k, v)
	}
	scheme := "ws://"
	if p.target.TLS != nil {
		scheme = "wss://"
	}
	transport := &http.Transport{
		DialContext:     func(ctx context.Context, _, address string) (net.Conn, error) { return p.dial(ctx, address) },
		TLSClientConfig: p.target.TLS,
	}
	defer transport.CloseIdleConnections()
	conn, res, err := websocket.Dial(ctx, scheme+p.target.Address+"/v1/practices/live", &websocket.DialOptions{
		HTTPClient: &http.Client{Transport: transport}, HTTPHeader: header, Subprotocols: []string{"courtkin.v1.proto"},
	})
	if res != nil && res.Body != nil {
		defer res.Body.Close()
	}
	if err != nil {
		return err
	}
	defer func() { _ = conn.CloseNow() }()
	conn.SetReadLimit(16 << 20)
	heard := make(chan error, 1)
	go func() { heard <- p.listen(ctx, conn) }()
	said := p.speak(ctx, conn)
	if said != nil && ctx.Err() != nil {
		cancel()
	}
	if err := <-heard; err != nil {
		return err
	}
	return said
}

// speak sends the whole practice.
func (p *player) speak(ctx context.Context, conn *websocket.Conn) error {
	if err := write(ctx, conn, &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: p.script.open()}}); err != nil {
		return err
	}
	err := p.paced(ctx, func(frames []*pb.Frame) error {
		batch := &pb.StreamPracticeRequest_FrameBatch{Frames: frames}
		if p.target.Compact {
			block, err := wire.Block(frames, false)
			if err != nil {
				return err
			}
			batch = &pb.StreamPracticeRequest_FrameBatch{Blocks: []*pb.FrameBlock{block}}
		}
		return write(ctx, conn, &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: batch}})
	})
	if err != nil {
		return err
	}
	return write(ctx, conn, &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{
		Finish: &pb.StreamPracticeRequest_Finish{Frames: []uint32{uint32(len(p.script.Frames))}},
	}})
}

// listen takes what the server says until its good end.
func (p *player) listen(ctx context.Context, conn *websocket.Conn) error {
	for {
		_, raw, err := conn.Read(ctx)
		var closed websocket.CloseError
		if errors.As(err, &closed) && closed.Code == websocket.StatusNormalClosure {
			return nil
		}
		if err != nil {
			return err
		}
		m := &pb.StreamPracticeResponse{}
		if err := proto.Unmarshal(raw, m); err != nil {
			return err
		}
		p.take(m)
	}
}

func write(ctx context.Context, conn *websocket.Conn, m *pb.StreamPracticeRequest) error {
	raw, err := proto.Marshal(m)
	if err != nil {
		return err
	}
	return conn.Write(ctx, websocket.MessageBinary, raw)
}
