package service

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
)

// metronome is a machine that finds a swing every 100 frames, an event and a
// reading every 10, and needs the last 50 frames.
type metronome struct {
	n    int
	open bool
}

func (m *metronome) Push(f *body.Frame, to swing.Sink) error {
	m.n++
	m.open = true
	if m.n%10 == 0 {
		to.Event(swing.LiveEvent{Kind: phase.Contact, TimeUS: f.TimeUS, SDUS: 1000, Withdrawn: m.n%20 == 0})
	}
	to.Reading(swing.Reading{TimeUS: f.TimeUS, RacketSpeed: float64(m.n)})
	if m.n%100 == 0 {
		m.settle(f.Index, to)
	}
	to.Progress(swing.Progress{Camera: f.Camera, Received: uint32(m.n), KeepFrom: max(f.Index, 50) - 50, Clock: swing.Clock{Factor: 4, SD: 0.5}})
	return nil
}

func (m *metronome) settle(last uint32, to swing.Sink) {
	m.open = false
	to.Swing(&measure.Sheet{ID: fmt.Sprint("swing-", last), Stroke: body.Forehand, Hand: body.RightHanded, LastFrame: last})
}

func (m *metronome) Finish(to swing.Sink) {
	if m.open {
		m.settle(uint32(m.n), to)
	}
}

// withMetronome is a configuration whose machine is a metronome.
func withMetronome() Config {
	return Config{NewMachine: func(swing.Setup) (Machine, error) { return &metronome{}, nil }}
}

// dial serves a configuration in memory and returns a client to it.
func dial(t testing.TB, c Config) pb.SwingAnalysisServiceClient {
	t.Helper()
	srv, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	listener := bufconn.Listen(1 << 16)
	server := grpc.NewServer(srv.Options()...)
	srv.Register(server)
	go func() { _ = server.Serve(listener) }()
	conn, err := grpc.NewClient("passthrough:///made",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(128<<20), grpc.MaxCallSendMsgSize(128<<20)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(); server.Stop() })
	return pb.NewSwingAnalysisServiceClient(conn)
}

// within is a context that ends with the test, or after far longer than any
// call here takes.
func within(t testing.TB) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(cancel)
	return ctx
}

func coco() *pb.Setup { return &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17} }

// frames returns n empty frames at 60 Hz from index `from` on.
func frames(from, n int) []*pb.Frame {
	out := make([]*pb.Frame, n)
	for i := range out {
		out[i] = &pb.Frame{Index: uint32(from + i), TimeUs: int64(from+i) * 16_667}
	}
	return out
}

// The messages of a stream.
func open(s *pb.Setup) *pb.StreamPracticeRequest {
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{Setup: s}}}
}

func batch(fs []*pb.Frame) *pb.StreamPracticeRequest {
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: &pb.StreamPracticeRequest_FrameBatch{Frames: fs}}}
}

func finish(counts ...uint32) *pb.StreamPracticeRequest {
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{Finish: &pb.StreamPracticeRequest_Finish{Frames: counts}}}
}

// answers is all that a stream said, and how it ended.
type answers struct {
	all []*pb.StreamPracticeResponse
	err error // nil: the good end
}

// converse sends messages, ends its side and collects the answers.
func converse(t testing.TB, client pb.SwingAnalysisServiceClient, messages ...*pb.StreamPracticeRequest) answers {
	t.Helper()
	stream, err := client.StreamPractice(within(t))
	if err != nil {
		t.Fatal(err)
	}
	go func() {
		for _, m := range messages {
			if stream.Send(m) != nil {
				return
			}
		}
		_ = stream.CloseSend()
	}()
	var a answers
	for {
		m, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return a
		}
		if err != nil {
			a.err = err
			return a
		}
		a.all = append(a.all, m)
	}
}

func (a answers) swings() (out []*pb.Swing) {
	for _, m := range a.all {
		if s := m.GetSwing(); s != nil {
			out = append(out, s)
		}
	}
	return out
}

func (a answers) acks() (out []*pb.StreamPracticeResponse_Ack) {
	for _, m := range a.all {
		if s := m.GetAck(); s != nil {
			out = append(out, s)
		}
	}
	return out
}

// wantInvalid fails unless err is INVALID_ARGUMENT with a violation of the field.
func wantInvalid(t *testing.T, err error, field string) {
	t.Helper()
	s := status.Convert(err)
	for _, d := range s.Details() {
		if bad, ok := d.(*errdetails.BadRequest); ok && s.Code() == codes.InvalidArgument {
			for _, v := range bad.FieldViolations {
				if v.Field == field {
					return
				}
			}
		}
	}
	t.Errorf("%v %v, want INVALID_ARGUMENT of %s", err, s.Details(), field)
}

// wantLimit fails unless err is RESOURCE_EXHAUSTED naming the limit.
func wantLimit(t *testing.T, err error, limit string) {
	t.Helper()
	s := status.Convert(err)
	for _, d := range s.Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok && s.Code() == codes.ResourceExhausted && info.Metadata["limit"] == limit {
			return
		}
	}
	t.Errorf("%v %v, want RESOURCE_EXHAUSTED of %s", err, s.Details(), limit)
}

// wantLost fails unless err is DATA_LOSS for the reason.
func wantLost(t *testing.T, err error, reason string) {
	t.Helper()
	s := status.Convert(err)
	for _, d := range s.Details() {
		if info, ok := d.(*errdetails.ErrorInfo); ok && s.Code() == codes.DataLoss && info.Reason == reason {
			return
		}
	}
	t.Errorf("%v %v, want DATA_LOSS %s", err, s.Details(), reason)
}
