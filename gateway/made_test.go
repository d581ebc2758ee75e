package gateway

import (
	"context"
	"errors"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// made is a service of the contract that answers simply: a clip with a swing
// for each frame, a batch with an Ack.
type made struct {
	pb.UnimplementedSwingAnalysisServiceServer
	health *health.Server
	seen   chan metadata.MD // of unary calls
}

func (m *made) AnalyzeClip(ctx context.Context, req *pb.AnalyzeClipRequest) (*pb.AnalyzeClipResponse, error) {
	md, _ := metadata.FromIncomingContext(ctx)
	select {
	case m.seen <- md:
	default:
	}
	if len(req.Frames) == 0 {
		s, err := status.New(codes.InvalidArgument, "frames: the clip is empty").WithDetails(&errdetails.BadRequest{
			FieldViolations: []*errdetails.BadRequest_FieldViolation{{Field: "frames", Description: "the clip is empty"}},
		})
		return nil, errors.Join(s.Err(), err)
	}
	res := &pb.AnalyzeClipResponse{}
	for range req.Frames {
		res.Swings = append(res.Swings, &pb.Swing{Events: []*pb.Event{{TimeUs: 1 << 60}}})
	}
	return res, nil
}

func (*made) GetCatalog(_ context.Context, req *pb.GetCatalogRequest) (*pb.GetCatalogResponse, error) {
	return &pb.GetCatalogResponse{Cues: []*pb.GetCatalogResponse_CueDefinition{{Text: req.Locale}}}, nil
}

func (*made) StreamPractice(stream practiceServer) error {
	if err := stream.SendHeader(nil); err != nil {
		return err
	}
	var taken uint32
	for {
		req, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return status.Error(codes.DataLoss, "the stream was cut off")
		}
		if err != nil {
			return err
		}
		res := &pb.StreamPracticeResponse{}
		switch m := req.Message.(type) {
		case *pb.StreamPracticeRequest_Open_:
			if m.Open.Setup == nil {
				return status.Error(codes.InvalidArgument, "open.setup: is required")
			}
			res.Message = &pb.StreamPracticeResponse_Opened_{Opened: &pb.StreamPracticeResponse_Opened{ServerVersion: "made"}}
		case *pb.StreamPracticeRequest_Frames:
			taken += uint32(len(m.Frames.Frames))
			res.Message = &pb.StreamPracticeResponse_Ack_{Ack: &pb.StreamPracticeResponse_Ack{Received: taken}}
		case *pb.StreamPracticeRequest_Finish_:
			if n := m.Finish.Frames; len(n) > 0 && n[0] != taken {
				return status.Error(codes.DataLoss, strings.Repeat("lost ", 40))
			}
			return nil
		}
		if err := stream.Send(res); err != nil {
			return err
		}
	}
}

type practiceServer = pb.SwingAnalysisService_StreamPracticeServer

// serve returns the address of a gateway before a made service.
func serve(t testing.TB, c Config) (string, *made) {
	t.Helper()
	m := &made{health: health.NewServer(), seen: make(chan metadata.MD, 1)}
	listener := bufconn.Listen(1 << 16)
	server := grpc.NewServer(grpc.MaxRecvMsgSize(128<<20), grpc.MaxSendMsgSize(128<<20))
	pb.RegisterSwingAnalysisServiceServer(server, m)
	healthpb.RegisterHealthServer(server, m.health)
	go func() { _ = server.Serve(listener) }()
	conn, err := grpc.NewClient("passthrough:///made",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	c.Conn = conn
	handler, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(handler)
	t.Cleanup(func() {
		web.CloseClientConnections()
		web.Close()
		conn.Close()
		server.Stop()
	})
	return web.URL, m
}

// within is a context that ends long after any call here.
func within(t testing.TB) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(cancel)
	return ctx
}

// call makes a request and returns its answer with the body read.
func call(t *testing.T, method, url string, body io.Reader, headers ...string) (*http.Response, string) {
	t.Helper()
	req, err := http.NewRequestWithContext(within(t), method, url, body)
	if err != nil {
		t.Fatal(err)
	}
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	res, err := client.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(raw)
}
