package main

import (
	"bufio"
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/coder/websocket"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/wire"
)

// conversation is a clip as the messages of a stream, eight frames in each, in
// blocks or plain.
func conversation(t *testing.T, req *pb.AnalyzeClipRequest, blocks bool) []*pb.StreamPracticeRequest {
	t.Helper()
	return batched(t, req, blocks, func() int { return 8 })
}

// batched is the same with as many frames in each message as size says.
func batched(t *testing.T, req *pb.AnalyzeClipRequest, blocks bool, size func() int) []*pb.StreamPracticeRequest {
	t.Helper()
	out := []*pb.StreamPracticeRequest{{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{Setup: req.Setup}}}}
	for left := req.Frames; len(left) > 0; {
		n := min(size(), len(left))
		part := left[:n]
		left = left[n:]
		b := &pb.StreamPracticeRequest_FrameBatch{Frames: part}
		if blocks {
			block, err := wire.Block(part, true)
			if err != nil {
				t.Fatal(err)
			}
			b = &pb.StreamPracticeRequest_FrameBatch{Blocks: []*pb.FrameBlock{block}}
		}
		out = append(out, &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: b}})
	}
	return append(out, &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{
		Finish: &pb.StreamPracticeRequest_Finish{Frames: []uint32{uint32(len(req.Frames))}},
	}})
}

func jsonOf(t *testing.T, m proto.Message) string {
	t.Helper()
	raw, err := protojson.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// overLines streams a conversation as newline-delimited JSON.
func overLines(t *testing.T, url string, messages []*pb.StreamPracticeRequest) (swings []*pb.Swing) {
	t.Helper()
	var body strings.Builder
	for _, m := range messages {
		body.WriteString(jsonOf(t, m) + "\n")
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	res, err := client.Post(url+"/v1/practices:stream", "application/x-ndjson", strings.NewReader(body.String()))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	lines := bufio.NewScanner(res.Body)
	lines.Buffer(nil, 4<<20)
	for lines.Scan() {
		m := &pb.StreamPracticeResponse{}
		if err := protojson.Unmarshal(lines.Bytes(), m); err != nil {
			t.Fatalf("%v: %s", err, lines.Text())
		}
		if s := m.GetSwing(); s != nil {
			swings = append(swings, s)
		}
	}
	if lines.Err() != nil {
		t.Fatal(lines.Err())
	}
	return swings
}

// overSocket streams a conversation over a WebSocket in either subprotocol.
func overSocket(t *testing.T, url, protocol string, messages []*pb.StreamPracticeRequest) (swings []*pb.Swing) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	conn, _, err := websocket.Dial(ctx, "ws"+strings.TrimPrefix(url, "http")+"/v1/practices/live", &websocket.DialOptions{Subprotocols: []string{protocol}})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.CloseNow() }()
	conn.SetReadLimit(4 << 20)
	kind, marshal, unmarshal := websocket.MessageText, protojson.Marshal, protojson.Unmarshal
	if protocol == "courtkin.v1.proto" {
		kind, marshal, unmarshal = websocket.MessageBinary, proto.Marshal, proto.Unmarshal
	}
	go func() {
		for _, m := range messages {
			raw, err := marshal(m)
			if err != nil || conn.Write(ctx, kind, raw) != nil {
				return
			}
		}
	}()
	for {
		_, raw, err := conn.Read(ctx)
		if websocket.CloseStatus(err) == websocket.StatusNormalClosure {
			return swings
		}
		m := &pb.StreamPracticeResponse{}
		if err != nil || unmarshal(raw, m) != nil {
			t.Fatalf("%v: %s", err, raw)
		}
		if s := m.GetSwing(); s != nil {
			swings = append(swings, s)
		}
	}
}

// overGRPC streams a conversation as it is.
func overGRPC(t *testing.T, address string, messages []*pb.StreamPracticeRequest) (swings []*pb.Swing) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	stream, err := grpcClient(t, address).StreamPractice(ctx)
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
	for {
		m, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			return swings
		}
		if err != nil {
			t.Fatal(err)
		}
		if s := m.GetSwing(); s != nil {
			swings = append(swings, s)
		}
	}
}

// TestEveryTransportGivesTheSame sends one clip whole and live over every
// transport, in batches of any size: the swing is the same to the last bit.
func TestEveryTransportGivesTheSame(t *testing.T) {
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0")
	defer stop()
	req := forehand(t)
	req.Setup.WithTrace = true
	code, body := post(t, at["HTTP"]+"/v1/clips:analyze", jsonOf(t, req))
	whole := &pb.AnalyzeClipResponse{}
	if err := protojson.Unmarshal([]byte(body), whole); code != 200 || err != nil || len(whole.Swings) != 1 {
		t.Fatalf("%d %v, %d swings", code, err, len(whole.Swings))
	}
	plain := conversation(t, req, false)
	rng := rand.New(rand.NewPCG(8, 8))
	for name, got := range map[string][]*pb.Swing{
		"lines":         overLines(t, at["HTTP"], plain),
		"text socket":   overSocket(t, at["HTTP"], "courtkin.v1.json", plain),
		"binary socket": overSocket(t, at["HTTP"], "courtkin.v1.proto", plain),
		"gRPC":          overGRPC(t, at["gRPC"], plain),
		"one by one":    overGRPC(t, at["gRPC"], batched(t, req, false, func() int { return 1 })),
		"any batches":   overLines(t, at["HTTP"], batched(t, req, false, func() int { return 1 + rng.IntN(100) })),
	} {
		if len(got) != 1 || !proto.Equal(got[0], whole.Swings[0]) {
			t.Errorf("%s: %d swings, or another one", name, len(got))
		}
	}
	packed := conversation(t, req, true)
	lines, socket := overLines(t, at["HTTP"], packed), overSocket(t, at["HTTP"], "courtkin.v1.proto", packed)
	direct := overGRPC(t, at["gRPC"], packed)
	if len(lines) != 1 || len(socket) != 1 || len(direct) != 1 || !proto.Equal(lines[0], socket[0]) || !proto.Equal(lines[0], direct[0]) {
		t.Errorf("blocks: %d, %d and %d swings, or another one", len(lines), len(socket), len(direct))
	}
}
