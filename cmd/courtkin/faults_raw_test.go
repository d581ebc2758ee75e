package main

import (
	"context"
	"crypto/rand"
	"errors"
	"io"
	"net"
	"net/http"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/encoding"
	grpcproto "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// rawBytes are sent as a message as they are.
type rawBytes []byte

// rawCodec sends rawBytes untouched and everything else as protobuf.
type rawCodec struct{ encoding.CodecV2 }

func (c rawCodec) Marshal(v any) (mem.BufferSlice, error) {
	if raw, ok := v.(rawBytes); ok {
		return mem.BufferSlice{mem.SliceBuffer(raw)}, nil
	}
	return c.CodecV2.Marshal(v)
}

// rawStream opens a practice on which any bytes can be sent.
func rawStream(ctx context.Context, t *testing.T, conn *grpc.ClientConn) grpc.ClientStream {
	t.Helper()
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: true, ClientStreams: true},
		pb.SwingAnalysisService_StreamPractice_FullMethodName, grpc.ForceCodecV2(rawCodec{encoding.GetCodecV2(grpcproto.Name)}))
	if err != nil {
		t.Fatal(err)
	}
	return stream
}

func connect(t *testing.T, address string) *grpc.ClientConn {
	t.Helper()
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return conn
}

func opening() *pb.StreamPracticeRequest {
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{Setup: practice().req.Setup}}}
}

// well fails unless the server still answers.
func (r *replica) well(t *testing.T) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	if _, err := pb.NewSwingAnalysisServiceClient(connect(t, r.grpc)).GetCatalog(ctx, &pb.GetCatalogRequest{}, grpc.WaitForReady(true)); err != nil {
		t.Errorf("gRPC is not well: %v", err)
	}
	if code, _ := get(t, "http://"+r.http+"/readyz"); code != http.StatusOK {
		t.Errorf("/readyz answers %d", code)
	}
}

// TestFaultHalfFrame cuts a message of frames at each byte and ends the stream
// as a client would that believes it has sent all: never a clean end.
func TestFaultHalfFrame(t *testing.T) {
	faultTest(t)
	r := newReplica(t, nil)
	conn := connect(t, r.grpc)
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	whole, err := proto.Marshal(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{
		Frames: &pb.StreamPracticeRequest_FrameBatch{Frames: practice().req.Frames[:1]}}})
	if err != nil {
		t.Fatal(err)
	}
	row := &figures{note: "refused"}
	got := map[codes.Code]int{}
	for cut := range whole {
		stream := rawStream(ctx, t, conn)
		_ = stream.SendMsg(opening())
		_ = stream.SendMsg(rawBytes(whole[:cut]))
		_ = stream.CloseSend()
		code := status.Code(drained(stream))
		row.tries++
		got[code]++
		if code != codes.InvalidArgument && code != codes.DataLoss {
			t.Errorf("cut after byte %d of %d: %v", cut, len(whole), code)
		}
	}
	t.Logf("%d cuts: %v", len(whole), got)
	r.well(t)
	row.tell("half a frame")
}

// drained receives until the end and returns it, nil for a good one.
func drained(stream grpc.ClientStream) error {
	for {
		err := stream.RecvMsg(&pb.StreamPracticeResponse{})
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// TestFaultGarbage throws random bytes at both ports, some after an honest
// beginning, and messages of random bytes into streams.
func TestFaultGarbage(t *testing.T) {
	faultTest(t)
	r := newReplica(t, nil)
	r.well(t)
	before := r.memory()
	row := &figures{note: "refused"}
	begins := []string{
		"", "PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n", "GET / HTTP/1.1\r\nHost: x\r\n", "POST /v1/clips:analyze HTTP/1.1\r\nHost: x\r\nContent-Length: 1000\r\n\r\n",
		"GET /v1/practices/live HTTP/1.1\r\nHost: x\r\nConnection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n",
	}
	for i := range times(60, 2000) {
		for _, address := range []string{r.grpc, r.http} {
			throw(t, address, begins[i%len(begins)])
			row.tries++
		}
	}
	conn := connect(t, r.grpc)
	for range times(50, 2000) {
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		stream := rawStream(ctx, t, conn)
		_ = stream.SendMsg(opening())
		_ = stream.SendMsg(rawBytes(noise(500)))
		_ = stream.CloseSend()
		if drained(stream) == nil {
			t.Error("garbage came to a good end")
		}
		cancel()
		row.tries++
	}
	r.well(t)
	if grown := r.memory() - before; grown > 64<<20 {
		t.Errorf("memory grew by %d MB", grown>>20)
	}
	row.tell("garbage")
}

func noise(n int) []byte {
	b := make([]byte, n)
	_, _ = rand.Read(b)
	return b
}

// throw sends a beginning and noise, and reads what comes for a moment.
func throw(t *testing.T, address, begin string) {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	_ = c.SetDeadline(time.Now().Add(20 * time.Millisecond))
	_, _ = c.Write(append([]byte(begin), noise(2000)...))
	_, _ = io.Copy(io.Discard, c)
}

// TestFaultFlood has one client send as fast as it can while another plays:
// memory stays bounded and the other loses nothing.
func TestFaultFlood(t *testing.T) {
	faultTest(t)
	r := newReplica(t, nil)
	ctx, cancel := context.WithCancel(context.Background())
	var floods sync.WaitGroup
	sent := make([]int, 4)
	for i := range sent {
		floods.Go(func() { sent[i] = flood(ctx, t, r.grpc, true) })
	}
	row := &figures{}
	ids, recovered := streaming{targets: []string{r.grpc}}.play(t)
	row.took(t, len(sent), ids, recovered)
	peak := r.memory()
	cancel()
	floods.Wait()
	t.Logf("%v frames flooded in, %d MB resident", sent, peak>>20)
	if peak > 400<<20 {
		t.Errorf("%d MB resident", peak>>20)
	}
	r.well(t)
	row.tell("flood")
}

// TestFaultSlowReader has clients that send and never read: the server holds
// them, and their memory does not grow.
func TestFaultSlowReader(t *testing.T) {
	faultTest(t)
	r := newReplica(t, nil)
	r.well(t)
	before := r.memory()
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(times(4, 40))*time.Second)
	defer cancel()
	row := &figures{}
	var readers sync.WaitGroup
	sent := make([]int, 8)
	for i := range sent {
		readers.Go(func() { sent[i] = flood(ctx, t, r.grpc, false) })
	}
	ids, recovered := streaming{targets: []string{r.grpc}}.play(t)
	row.took(t, len(sent), ids, recovered)
	readers.Wait()
	if grown := r.memory() - before; grown > 400<<20 {
		t.Errorf("memory grew by %d MB", grown>>20)
	}
	t.Logf("%v frames taken before the server held them; %d MB more", sent, (r.memory()-before)>>20)
	r.well(t)
	row.tell("slow reader")
}

// flood sends frames of a player who stands still as fast as they are taken,
// and returns how many were sent.
func flood(ctx context.Context, t *testing.T, address string, read bool) (sent int) {
	t.Helper()
	stream, err := pb.NewSwingAnalysisServiceClient(connect(t, address)).StreamPractice(ctx)
	if err != nil {
		return 0
	}
	_ = stream.Send(opening())
	if read {
		go func() { _ = drained(stream) }()
	}
	still := practice().req.Frames[0]
	for ctx.Err() == nil {
		batch := &pb.StreamPracticeRequest_FrameBatch{}
		for range 32 {
			batch.Frames = append(batch.Frames, &pb.Frame{Index: uint32(sent), TimeUs: int64(sent) * 16_667,
				World: still.World, RacketWorld: still.RacketWorld})
			sent++
		}
		if stream.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: batch}}) != nil {
			return sent
		}
	}
	return sent
}

// TestFaultDescriptors uses up a server's file descriptors: it refuses, lives,
// and is well again when connections close.
func TestFaultDescriptors(t *testing.T) {
	faultTest(t)
	r := newReplica(t, []string{"sh", "-c", `ulimit -n 64 && exec "$0"`})
	r.well(t)
	row := &figures{}
	for range times(2, 10) {
		var held []net.Conn
		for range 200 {
			for _, address := range []string{r.grpc, r.http} {
				if c, err := net.DialTimeout("tcp", address, time.Second); err == nil {
					held = append(held, c)
				}
			}
		}
		time.Sleep(200 * time.Millisecond)
		for _, c := range held {
			c.Close()
		}
		row.tries++
		begin := time.Now()
		r.well(t)
		row.recovered = append(row.recovered, time.Since(begin))
	}
	ids, _ := streaming{targets: []string{r.grpc}}.play(t)
	row.took(t, 0, ids, nil)
	row.tell("file descriptors used up")
}

// TestFaultFullLog has the log go to a full disk: practice goes on.
// What batch does on a full disk is in TestBatchFullDisk.
func TestFaultFullLog(t *testing.T) {
	faultTest(t)
	r := newReplica(t, []string{"sh", "-c", `exec "$0" 2>/dev/full`})
	throw(t, r.http, "GET / HTTP/1.1\r\nHost: x\r\n") // something to log
	row := &figures{}
	ids, recovered := streaming{targets: []string{r.grpc}}.play(t)
	row.took(t, 1, ids, recovered)
	r.well(t)
	row.tell("disk full")
}

// TestFaultSlowLoris opens requests that are never finished: the server lets
// them go, and others are served meanwhile.
func TestFaultSlowLoris(t *testing.T) {
	faultTest(t)
	t.Parallel()
	r := newReplica(t, nil)
	var open []net.Conn
	for range 50 {
		c, err := net.Dial("tcp", r.http)
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		_, _ = io.WriteString(c, "GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ")
		open = append(open, c)
	}
	begin := time.Now()
	r.well(t)
	for time.Since(begin) < 11*time.Second { // the server's limit on headers is 10 s
		for _, c := range open {
			_, _ = io.WriteString(c, "a")
		}
		time.Sleep(500 * time.Millisecond)
	}
	for _, c := range open {
		_ = c.SetReadDeadline(time.Now().Add(20 * time.Second))
		answer, err := io.ReadAll(c)
		if err != nil && strings.Contains(err.Error(), "timeout") {
			t.Fatalf("still open after %v: %q", time.Since(begin), answer)
		}
	}
}
