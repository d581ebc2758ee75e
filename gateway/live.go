package gateway

import (
	"context"
	"errors"
	"io"
	"net/http"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/coder/websocket"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Subprotocols of the WebSocket.
const (
	binaryProtocol = "courtkin.v1.proto" // binary messages, protobuf
	textProtocol   = "courtkin.v1.json"  // text messages, protobuf's JSON
)

// closeBase plus a gRPC code is the close code of a stream that failed.
const closeBase = 4000

// live serves StreamPractice over a WebSocket, a message for a message.
// Without a subprotocol it speaks JSON. The stream's end is the close code:
// 1000 after finish, 4000 + the gRPC code with the reason else.
func (g *gateway) live(w http.ResponseWriter, r *http.Request) {
	if offered := r.Header.Get("Sec-WebSocket-Protocol"); offered != "" && !knownProtocol(offered) {
		writeStatus(w, http.StatusBadRequest, status.New(codes.InvalidArgument,
			"Sec-WebSocket-Protocol must offer "+binaryProtocol+" or "+textProtocol))
		return
	}
	conn, err := websocket.Accept(w, r, &websocket.AcceptOptions{
		Subprotocols:         []string{binaryProtocol, textProtocol},
		OriginPatterns:       g.config.Origins,
		CompressionMode:      websocket.CompressionNoContextTakeover,
		CompressionThreshold: 512,
	})
	if err != nil {
		return // Accept has answered
	}
	// A message over the limit is answered by the limit's name; one over twice
	// the limit is not read to its end, and the close code is 1009.
	conn.SetReadLimit(2 * int64(g.config.LineBytes))
	ctx, cancel := context.WithCancel(metadata.NewOutgoingContext(r.Context(), streamed(r, "websocket")))
	defer cancel()
	s := &socket{gateway: g, conn: conn, text: conn.Subprotocol() != binaryProtocol, bad: make(chan error, 1)}
	closeWith(conn, s.run(ctx, cancel))
}

func knownProtocol(offered string) bool {
	for p := range strings.SplitSeq(offered, ",") {
		if p = strings.TrimSpace(p); p == binaryProtocol || p == textProtocol {
			return true
		}
	}
	return false
}

// socket is one WebSocket bridged to one call.
type socket struct {
	*gateway
	conn *websocket.Conn
	text bool
	bad  chan error // the message that was unreadable, if any; room for one
}

// run bridges until either side ends; a good end is nil.
func (s *socket) run(ctx context.Context, cancel context.CancelFunc) error {
	stream, err := s.client.StreamPractice(ctx)
	if err != nil {
		return err
	}
	go s.send(ctx, stream)
	go s.ping(ctx, cancel)
	err = s.answer(ctx, stream)
	select {
	case bad := <-s.bad:
		if err != nil {
			return bad
		}
	default:
	}
	return err
}

// send passes messages on until the client closes. It ends the sending side in
// any case, so that the service sends what it has; an unreadable message is
// noted before that.
func (s *socket) send(ctx context.Context, to practiceStream) {
	defer func() { _ = to.CloseSend() }()
	for {
		kind, raw, err := s.conn.Read(ctx)
		if err != nil {
			return // the client closed or is gone: the service will say that it was cut off
		}
		req := &pb.StreamPracticeRequest{}
		if err := s.decode(kind, raw, req); err != nil {
			s.bad <- err
			return
		}
		if to.Send(req) != nil {
			return // Recv says why
		}
	}
}

func (s *socket) decode(kind websocket.MessageType, raw []byte, req *pb.StreamPracticeRequest) error {
	switch {
	case len(raw) > s.config.LineBytes:
		return unreadable{jsonError(limitError{"line_bytes", int64(s.config.LineBytes), "bytes in a message"}.Error())}
	case s.text != (kind == websocket.MessageText):
		return unreadable{status.New(codes.InvalidArgument, "message of the wrong kind: "+textProtocol+" is text, "+binaryProtocol+" is binary")}
	case s.text:
		if err := decode(raw, req, s.config.Objects); err != nil {
			return unreadable{jsonError(err.Error())}
		}
	case proto.Unmarshal(raw, req) != nil:
		return unreadable{status.New(codes.InvalidArgument, "message is no valid protobuf")}
	}
	return nil
}

// answer passes findings on until the service ends the stream.
func (s *socket) answer(ctx context.Context, from practiceStream) error {
	for {
		res, err := from.Recv()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		if err := s.write(ctx, res); err != nil {
			return err
		}
	}
}

// write sends one message; a client that does not take it in time is let go.
func (s *socket) write(ctx context.Context, res *pb.StreamPracticeResponse) error {
	ctx, cancel := context.WithTimeout(ctx, s.config.WriteTime)
	defer cancel()
	kind, marshal := websocket.MessageBinary, proto.Marshal
	if s.text {
		kind, marshal = websocket.MessageText, encoder.Marshal
	}
	raw, err := marshal(res)
	if err != nil {
		return err
	}
	return s.conn.Write(ctx, kind, raw)
}

// ping ends the call when the client no longer answers.
func (s *socket) ping(ctx context.Context, cancel context.CancelFunc) {
	tick := time.NewTicker(s.config.PingTime)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
			if s.pong(ctx) != nil {
				cancel()
				return
			}
		}
	}
}

func (s *socket) pong(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, s.config.WriteTime)
	defer cancel()
	return s.conn.Ping(ctx)
}

// closeWith closes the socket with the code that says why.
func closeWith(conn *websocket.Conn, err error) {
	if err == nil {
		_ = conn.Close(websocket.StatusNormalClosure, "")
		return
	}
	st := status.Convert(err)
	if u := (unreadable{}); errors.As(err, &u) {
		st = u.Status
	}
	_ = conn.Close(websocket.StatusCode(closeBase+int(st.Code())), reason(st.Message()))
}

// reason cuts a text to what a close frame holds: 123 bytes of UTF-8.
func reason(text string) string {
	const most = 123
	if len(text) <= most {
		return text
	}
	cut := most - len("…")
	for cut > 0 && !utf8.RuneStart(text[cut]) {
		cut--
	}
	return text[:cut] + "…"
}
