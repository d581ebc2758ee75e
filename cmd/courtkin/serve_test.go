package main

import (
	"bufio"
	"context"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"
	"time"

	"go.uber.org/goleak"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/client"
	"example.com/courtkin/service/synth"
)

// started runs a server command until the returned stop, which gives its exit
// status. Its addresses are read from what it prints.
func started(t *testing.T, args ...string) (addresses map[string]string, stop func() int) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	read, write := io.Pipe()
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, args, strings.NewReader(""), write, io.Discard)
		write.Close()
	}()
	addresses = map[string]string{}
	want := 1
	if args[0] == "serve" {
		want = 2
	}
	lines := bufio.NewScanner(read)
	for len(addresses) < want && lines.Scan() {
		if name, address, ok := strings.Cut(lines.Text(), "  "); ok && (name == "gRPC" || name == "HTTP") {
			addresses[name] = strings.TrimSpace(address)
		}
	}
	if len(addresses) < want {
		cancel()
		t.Fatalf("%v printed no addresses", args)
	}
	go func() { _, _ = io.Copy(io.Discard, read) }()
	return addresses, func() int {
		cancel()
		return <-status
	}
}

func get(t *testing.T, url string) (int, string) {
	t.Helper()
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	res, err := client.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(raw)
}

func post(t *testing.T, url, body string) (int, string) {
	t.Helper()
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	res, err := client.Post(url, "application/json", strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(raw)
}

func grpcClient(t *testing.T, address string) pb.SwingAnalysisServiceClient {
	t.Helper()
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return pb.NewSwingAnalysisServiceClient(conn)
}

func TestServe(t *testing.T) {
	t.Run("both", func(t *testing.T) {
		at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0", "--reflection")
		for path, want := range map[string]string{"/healthz": "ok", "/readyz": "ready", "/openapi.json": "swagger", "/v1/catalog": "lag.max"} {
			if code, body := get(t, at["HTTP"]+path); code != 200 || !strings.Contains(body, want) {
				t.Errorf("%s: %d %.100s", path, code, body)
			}
		}
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		defer cancel()
		res, err := grpcClient(t, at["gRPC"]).GetCatalog(ctx, &pb.GetCatalogRequest{})
		if err != nil || len(res.Measures) == 0 {
			t.Errorf("%v", err)
		}
		code, body := post(t, at["HTTP"]+"/v1/clips:analyze", `{"setup":{"layout":"POINT_LAYOUT_COCO_17"},"frames":[{"image":[1]}]}`)
		if code != 400 || !strings.Contains(body, "frames[0].image") {
			t.Errorf("%d %s", code, body)
		}
		code, body = post(t, at["HTTP"]+"/v1/practices:stream", `{"open":{"setup":{"layout":"POINT_LAYOUT_COCO_17"}}}`+"\n"+
			`{"frames":{"frames":[{},{"index":1,"timeUs":"9"}]}}`+"\n"+`{"finish":{"frames":[2]}}`)
		if code != 200 || !strings.Contains(body, "opened") || !strings.Contains(body, "ack") || strings.Contains(body, "error") {
			t.Errorf("%d %s", code, body)
		}
		if status := stop(); status != 0 {
			t.Errorf("stopped with %d", status)
		}
	})
	t.Run("halves", func(t *testing.T) {
		behind, stopService := started(t, "service", "--grpc-addr", "127.0.0.1:0")
		before, stopGateway := started(t, "gateway", "--http-addr", "127.0.0.1:0", "--service", behind["gRPC"])
		if code, body := get(t, before["HTTP"]+"/readyz"); code != 200 {
			t.Errorf("%d %s", code, body)
		}
		if code, body := get(t, before["HTTP"]+"/v1/catalog"); code != 200 || !strings.Contains(body, "lag.max") {
			t.Errorf("%d %.100s", code, body)
		}
		if stopService() != 0 {
			t.Error("the service did not stop well")
		}
		if code, _ := get(t, before["HTTP"]+"/readyz"); code != 503 {
			t.Errorf("ready without a service: %d", code)
		}
		if code, _ := get(t, before["HTTP"]+"/v1/catalog"); code != 503 {
			t.Errorf("a call without a service: %d", code)
		}
		if stopGateway() != 0 {
			t.Error("the gateway did not stop well")
		}
	})
	goleak.VerifyNone(t)
}

// TestStoppingCutsLongStreamsOff: after the grace a stream that goes on is
// ended, and the program does not hang.
func TestStoppingCutsLongStreamsOff(t *testing.T) {
	at, stop := started(t, "service", "--grpc-addr", "127.0.0.1:0", "--grace", "100ms")
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	stream, err := grpcClient(t, at["gRPC"]).StreamPractice(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := stream.Header(); err != nil {
		t.Fatal(err)
	}
	if status := stop(); status != 0 {
		t.Errorf("stopped with %d", status)
	}
	if _, err := stream.Recv(); err == nil {
		t.Error("the stream goes on")
	}
}

// process is a server in a process of its own that can be killed.
type killable struct {
	t       *testing.T
	address string
	cmd     *exec.Cmd
}

func newKillable(t *testing.T) *killable {
	t.Helper()
	k := &killable{t: t, address: freeAddress(t)}
	k.start()
	t.Cleanup(k.kill)
	return k
}

func (k *killable) start() {
	k.cmd = exec.Command(os.Args[0])
	k.cmd.Env = append(os.Environ(), "COURTKIN_TEST_RUN=service\n--grpc-addr\n"+k.address)
	if err := k.cmd.Start(); err != nil {
		k.t.Error(err)
	}
}

// kill is SIGKILL: nothing is said to anyone.
func (k *killable) kill() {
	_ = k.cmd.Process.Kill()
	_ = k.cmd.Wait()
}

// TestKilledProcessesLoseNoSwing streams a made practice while the processes
// of two replicas are killed at drawn instants, now this one, now that one, so that
// the client moves between them, and compares every swing, cues included, with those
// of the clip sent whole. COURTKIN_LONG makes it 200 swings.
func TestKilledProcessesLoseNoSwing(t *testing.T) {
	if testing.Short() {
		t.Skip("starts processes")
	}
	strokes := 6
	if os.Getenv("COURTKIN_LONG") != "" {
		strokes = 200
	}
	req := longPractice(strokes)
	srv, err := service.New(service.Config{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Minute)
	defer cancel()
	want, err := srv.Analyze(ctx, req, func(int) {})
	if err != nil {
		t.Fatal(err)
	}
	replicas := []*killable{newKillable(t), newKillable(t)}
	var got []*pb.Swing
	breaks := 0
	p, err := client.Start(ctx, client.Config{
		Targets: []string{replicas[0].address, replicas[1].address},
		Dial:    []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())},
		Open:    &pb.StreamPracticeRequest_Open{Setup: req.Setup},
		Handle: func(m *pb.StreamPracticeResponse) {
			if s := m.GetSwing(); s != nil {
				got = append(got, s)
			}
		},
		Lost:       func(error) { breaks++ },
		FirstPause: 20 * time.Millisecond, LastPause: 200 * time.Millisecond, Tries: 1000, Window: 256, Keep: 4096,
	})
	if err != nil {
		t.Fatal(err)
	}
	defer p.Close()
	rng := rand.New(rand.NewPCG(4, 200))
	kills, next := 0, 200+rng.IntN(600)
	for i, f := range req.Frames {
		if i == next {
			victim := replicas[rng.IntN(2)]
			victim.kill()
			victim.start()
			kills++
			next += 200 + rng.IntN(1500) // 2 to 14 s of the practice
		}
		if err := p.Send(ctx, f); err != nil {
			t.Fatal(err)
		}
	}
	if err := p.Finish(ctx); err != nil {
		t.Fatal(err)
	}
	if !slices.EqualFunc(got, want.Swings, func(a, b *pb.Swing) bool { return proto.Equal(a, b) }) {
		t.Errorf("%d swings, want %d", len(got), len(want.Swings))
		for i := range min(len(got), len(want.Swings)) {
			if !proto.Equal(got[i], want.Swings[i]) {
				t.Errorf("swing %d:\n%v\n%v", i, got[i], want.Swings[i])
				break
			}
		}
	}
	t.Logf("%d swings, %d kills, %d breaks", len(got), kills, breaks)
	if breaks < kills/4 || kills < strokes/4 { // half the kills meet the replica that is not in use
		t.Errorf("%d kills broke %d streams: too little was tried", kills, breaks)
	}
}

// longPractice is a made practice of n strokes in condition W.
func longPractice(n int) *pb.AnalyzeClipRequest {
	var strokes []body.Stroke
	for i := range n {
		strokes = append(strokes, []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.Forehand}[i%3])
	}
	m := synth.NewPractice(synth.Practice{Spec: synth.Spec{Seed: 21, Hand: body.RightHanded}, Strokes: strokes})
	clip := synth.Shoot(m, synth.World, synth.View{Layout: synth.COCO17}, 21)
	return clipRequest(&clip)
}
