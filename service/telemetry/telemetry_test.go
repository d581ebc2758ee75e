package telemetry_test

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/test/bufconn"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/telemetry"
)

// planted are values that must come out nowhere.
const (
	plantedID = "planted-practice-4711"
	plantedX  = 123.4375
)

// machine finds a contact at each tenth frame and a swing at each fiftieth.
type machine struct{ n int }

func (m *machine) Push(f *body.Frame, to swing.Sink) error {
	m.n++
	if m.n%10 == 0 {
		to.Event(swing.LiveEvent{Kind: phase.Contact, TimeUS: f.TimeUS})
	}
	if m.n%50 == 0 {
		to.Swing(&measure.Sheet{ID: plantedID, Stroke: body.Forehand, Capture: measure.Capture{Method: "world"}, Figures: []measure.Figure{
			{Name: "a", Grade: measure.Good}, {Name: "b", Grade: measure.NotMeasurable, Reason: measure.ReasonNoRacket},
			{Name: "c", Grade: measure.NotMeasurable, Reason: "words that no code has"}, {Name: "d", Grade: measure.Rough, Reason: measure.ReasonClock},
		}})
	}
	return nil
}

func (m *machine) Finish(swing.Sink) {}

// buffer is a log that may be read while it is written.
type buffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *buffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *buffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

// start serves a watched service in memory.
func start(t testing.TB, env map[string]string) (pb.SwingAnalysisServiceClient, *telemetry.Telemetry, *buffer) {
	t.Helper()
	log := &buffer{}
	tel, err := telemetry.Start(t.Context(), func(k string) string { return env[k] }, "test", log)
	if err != nil {
		t.Fatal(err)
	}
	srv, err := service.New(service.Config{NewMachine: func(swing.Setup) (service.Machine, error) { return &machine{}, nil }})
	if err != nil {
		t.Fatal(err)
	}
	if err := tel.Saturation(func() map[string]float64 { return map[string]float64{"streams": 0.5} }); err != nil {
		t.Fatal(err)
	}
	listener := bufconn.Listen(1 << 16)
	server := grpc.NewServer(append(tel.Options(), srv.Options()...)...)
	srv.Register(server)
	go func() { _ = server.Serve(listener) }()
	conn, err := grpc.NewClient("passthrough:///made",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(); server.Stop(); _ = tel.Stop(context.Background()) })
	return pb.NewSwingAnalysisServiceClient(conn), tel, log
}

// practise streams frames in batches; with finish it ends well.
func practise(t *testing.T, client pb.SwingAnalysisServiceClient, transport string, batches int, finish bool, spoil func(*pb.Frame)) error {
	t.Helper()
	ctx, cancel := context.WithTimeout(metadata.AppendToOutgoingContext(t.Context(), telemetry.TransportKey, transport), time.Minute)
	defer cancel()
	stream, err := client.StreamPractice(ctx)
	if err != nil {
		t.Fatal(err)
	}
	send := func(m *pb.StreamPracticeRequest) { _ = stream.Send(m) }
	send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{
		PracticeId: plantedID, Setup: &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17}}}})
	for b := range batches {
		batch := &pb.StreamPracticeRequest_FrameBatch{}
		for i := range 25 {
			f := &pb.Frame{Index: uint32(25*b + i), TimeUs: int64(25*b+i) * 16_667, Image: make([]float32, 51)}
			for p := range 17 {
				f.Image[3*p], f.Image[3*p+1], f.Image[3*p+2] = plantedX, plantedX, 0.9
			}
			if spoil != nil {
				spoil(f)
			}
			batch.Frames = append(batch.Frames, f)
		}
		send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: batch}})
	}
	if finish {
		send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{Finish: &pb.StreamPracticeRequest_Finish{}}})
	}
	_ = stream.CloseSend()
	for {
		if _, err := stream.Recv(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
	}
}

func scrape(t *testing.T, h http.Handler) (int, string) {
	t.Helper()
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest(http.MethodGet, "/metrics", nil))
	return w.Code, w.Body.String()
}

// settled scrapes until want is there: a call's end is counted after its client has seen it.
func settled(t *testing.T, h http.Handler, want string) string {
	t.Helper()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		if _, text := scrape(t, h); strings.Contains(text, want) || time.Now().After(end) {
			return text
		}
	}
}

// TestWhatAPracticeLeaves plays practices of each kind of end and reads the metrics.
func TestWhatAPracticeLeaves(t *testing.T) {
	client, tel, log := start(t, nil)
	h := tel.Handler(http.NotFoundHandler())
	if err := practise(t, client, "websocket", 4, true, nil); err != nil {
		t.Fatal(err)
	}
	_ = practise(t, client, "somebody's own", 1, false, nil)
	_ = practise(t, client, "grpc", 1, true, func(f *pb.Frame) { f.TimeUs = 5 })
	_ = practise(t, client, "grpc", 1, true, func(f *pb.Frame) { f.Image = f.Image[:3] })
	text := settled(t, h, `courtkin_rejects_total{reason="points",rpc="StreamPractice"} 1`)
	for _, want := range []string{
		`courtkin_streams_closed_total{end="finished",transport="websocket"} 1`,
		`courtkin_streams_closed_total{end="cut",transport="grpc"} 1`,
		`courtkin_streams_closed_total{end="rejected",transport="grpc"} 2`,
		`courtkin_streams_active{transport="grpc"} 0`,
		`courtkin_streams_active{transport="websocket"} 0`,
		`courtkin_frames_total{rpc="StreamPractice"} 175`,
		`courtkin_rejects_total{reason="times",rpc="StreamPractice"} 1`,
		`courtkin_rejects_total{reason="points",rpc="StreamPractice"} 1`,
		`courtkin_swings_total{method="world",stroke="forehand"} 2`,
		`courtkin_measures_total{grade="good"} 2`,
		`courtkin_measures_total{grade="not_measurable"} 4`,
		`courtkin_refusals_total{reason="no_racket_points"} 2`,
		`courtkin_refusals_total{reason="other"} 2`,
		`courtkin_clock_failures_total{reason="unverified"} 1`,
		`courtkin_delay_seconds_count{stage="event"} 12`,
		`courtkin_delay_seconds_count{stage="swing"} 2`,
		`courtkin_delay_seconds_bucket{stage="event",le="0.1"}`,
		`courtkin_saturation_ratio{resource="streams"} 0.5`,
		"rpc_server_call_duration_seconds_count", "go_goroutines ", "process_open_fds ", "process_resident_memory_bytes ",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no %s in\n%s", want, grepped(text, strings.Split(want, "{")[0]))
		}
	}
	for _, where := range []string{text, log.String()} {
		if strings.Contains(where, plantedID) || strings.Contains(where, "123.4") || strings.Contains(where, "somebody") {
			t.Errorf("a planted value came out in\n%s", where)
		}
	}
}

func grepped(text, name string) string {
	var out []string
	for line := range strings.SplitSeq(text, "\n") {
		if strings.HasPrefix(line, name) {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

// TestPageAndProgramAgree: every name on deploy/metrics.md is exported once
// there is something to tell, and no other of our own is.
func TestPageAndProgramAgree(t *testing.T) {
	page, err := os.ReadFile("../../deploy/metrics.md")
	if err != nil {
		t.Fatal(err)
	}
	client, tel, _ := start(t, nil)
	h := tel.Handler(http.NotFoundHandler())
	if err := practise(t, client, "grpc", 4, true, nil); err != nil {
		t.Fatal(err)
	}
	_ = practise(t, client, "grpc", 1, true, func(f *pb.Frame) { f.TimeUs = 5 })
	text := settled(t, h, `courtkin_rejects_total`)
	// These need calls of their own; the service's tests of those calls are elsewhere.
	later := map[string]bool{"courtkin_cues_total": true, "courtkin_feeds_total": true}
	listed := map[string]bool{}
	for _, m := range regexp.MustCompile("(?m)^\\| `courtkin[a-z.]+` \\| `([a-z_]+)` \\|").FindAllStringSubmatch(string(page), -1) {
		listed[m[1]] = true
		if !later[m[1]] && !strings.Contains(text, "# TYPE "+m[1]+" ") {
			t.Errorf("%s is on the page and not exported", m[1])
		}
	}
	for _, m := range regexp.MustCompile(`(?m)^# TYPE (courtkin\w+) `).FindAllStringSubmatch(text, -1) {
		if !listed[m[1]] {
			t.Errorf("%s is exported and not on the page", m[1])
		}
	}
}

// TestClientsMakeNoSeries: whatever a client makes up, the number of series stays.
func TestClientsMakeNoSeries(t *testing.T) {
	_, tel, _ := start(t, nil)
	h := tel.Handler(http.NotFoundHandler())
	series := func() int {
		_, text := scrape(t, h)
		return strings.Count(text, "http_server_request_duration_seconds_count")
	}
	knock := func(n int) {
		for i := range n {
			r := httptest.NewRequest(http.MethodGet, fmt.Sprint("/made-up-", i), nil)
			r.Host, r.Method = fmt.Sprint("host-", i), fmt.Sprint("METHOD", i)
			h.ServeHTTP(httptest.NewRecorder(), r)
		}
	}
	knock(1)
	before := series()
	knock(50)
	if after := series(); before != 1 || after != before {
		t.Errorf("%d series, then %d", before, after)
	}
}

func TestOffIsOff(t *testing.T) {
	for _, env := range []map[string]string{{"OTEL_SDK_DISABLED": "true"}, {"OTEL_METRICS_EXPORTER": "none"}} {
		client, tel, _ := start(t, env)
		if err := practise(t, client, "grpc", 1, true, nil); err != nil {
			t.Fatal(err)
		}
		inner := http.NotFoundHandler()
		if code, _ := scrape(t, tel.Handler(inner)); code != http.StatusNotFound {
			t.Errorf("%v: /metrics answers %d", env, code)
		}
		if tel.Took() != nil || len(tel.Options()) != 2 {
			t.Errorf("%v: something is installed", env)
		}
	}
}

func TestUnknownExportersAreRefused(t *testing.T) {
	for name, value := range map[string]string{"OTEL_METRICS_EXPORTER": "console", "OTEL_TRACES_EXPORTER": "zipkin"} {
		_, err := telemetry.Start(t.Context(), func(k string) string { return map[string]string{name: value}[k] }, "test", io.Discard)
		if err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s=%s: %v", name, value, err)
		}
	}
}

// TestLogsAreJSONWithTraceIDs has traces on; nobody listens where they go.
func TestLogsAreJSONWithTraceIDs(t *testing.T) {
	t.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:1")
	t.Setenv("OTEL_BSP_EXPORT_TIMEOUT", "10")
	client, _, log := start(t, map[string]string{"OTEL_TRACES_EXPORTER": "otlp"})
	if err := practise(t, client, "grpc", 1, true, nil); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(20 * time.Second); log.String() == "" && time.Now().Before(end); {
		time.Sleep(5 * time.Millisecond)
	}
	var line struct {
		RPC     string `json:"rpc"`
		Code    string `json:"code"`
		TraceID string `json:"trace_id"`
		SpanID  string `json:"span_id"`
	}
	if err := json.Unmarshal([]byte(log.String()), &line); err != nil {
		t.Fatalf("%v in %q", err, log)
	}
	if line.RPC != "StreamPractice" || line.Code != "OK" || len(line.TraceID) != 32 || len(line.SpanID) != 16 {
		t.Errorf("%+v", line)
	}
}
