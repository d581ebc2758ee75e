package gateway

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"strings"
	"testing"

	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// answer is google.rpc.Status as a client reads it.
type answer struct {
	Code    int
	Message string
	Details []struct {
		Type            string `json:"@type"`
		FieldViolations []struct{ Field, Description string }
		Metadata        map[string]string
	}
}

func TestRoutes(t *testing.T) {
	url, _ := serve(t, Config{})
	cases := []struct {
		method, path, body string
		code               int
		want               string
	}{
		{"POST", "/v1/clips:analyze", `{"frames":[{"timeUs":"5"},{"time_us":7}]}`, 200, `"swings":[{`},
		{"GET", "/v1/catalog?locale=de", "", 200, `"text":"de"`},
		{"POST", "/v1/swings:compare", `{}`, 501, "CompareSwings not implemented"},
		{"POST", "/v1/practices:summarize", `{}`, 501, "SummarizePractice not implemented"},
		{"POST", "/v1/feeds:advise", `{}`, 501, "AdviseFeed not implemented"},
		{"POST", "/v1/setups:check", `{}`, 501, "CheckSetup not implemented"},
		{"GET", "/healthz", "", 200, "ok"},
		{"GET", "/readyz", "", 200, "ready"},
		{"GET", "/openapi.json", "", 200, `"swagger": "2.0"`},
		{"GET", "/nothing", "", 404, ""},
		{"GET", "/v1/nothing", "", 404, `"code":5`},
		{"GET", "/v1/clips:analyze", "", 405, `"code":12`},
		{"GET", "/v1/practices/live", "", 426, ""},
	}
	for _, c := range cases {
		res, body := call(t, c.method, url+c.path, strings.NewReader(c.body))
		if res.StatusCode != c.code || !strings.Contains(strings.ReplaceAll(body, `": {`, `":{`), c.want) {
			t.Errorf("%s %s: %d %s", c.method, c.path, res.StatusCode, body)
		}
		if res.Header.Get("X-Request-Id") == "" {
			t.Errorf("%s %s: no request id", c.method, c.path)
		}
	}
}

// TestNumbersSurviveJavaScript: 64-bit times are strings, as a JavaScript
// number would round them; lists are there when they are empty.
func TestNumbersSurviveJavaScript(t *testing.T) {
	url, _ := serve(t, Config{})
	_, body := call(t, "POST", url+"/v1/clips:analyze", strings.NewReader(`{"frames":[{}]}`))
	var got struct {
		Swings []struct {
			Events []struct{ TimeUs string }
			Cues   []any
			Trace  *struct{}
		}
	}
	if err := json.Unmarshal([]byte(body), &got); err != nil {
		t.Fatal(err)
	}
	if s := got.Swings[0]; s.Events[0].TimeUs != "1152921504606846976" || s.Cues == nil || s.Trace != nil {
		t.Errorf("%s", body)
	}
}

func TestUnfitBodies(t *testing.T) {
	url, _ := serve(t, Config{BodyBytes: 2000, Objects: 50})
	cases := []struct {
		name, body string
		code, rpc  int
		field      string // of a violation, or the limit
	}{
		{"unknown field", `{"framez":[]}`, 400, 3, "framez"},
		{"unknown field deep", `{"frames":[{"imagine":[1]}]}`, 400, 3, "imagine"},
		{"wrong type", `{"frames":[{"timeUs":"soon"}]}`, 400, 3, "timeUs"},
		{"wrong enum", `{"setup":{"layout":"COCO"}}`, 400, 3, "layout"},
		{"truncated", `{"frames":[{"timeUs":"1"}`, 400, 3, "body"},
		{"no JSON", `hello`, 400, 3, "body"},
		{"two values", `{} {}`, 400, 3, "body"},
		{"a list", `[]`, 400, 3, "body"},
		{"empty clip", `{}`, 400, 3, "frames"},
		{"nothing", ``, 400, 3, "frames"},
		{"too many objects", `{"frames":[` + strings.Repeat("{},", 60) + `{}]}`, 429, 8, "objects"},
		{"too long", `{"setup":{"locale":"` + strings.Repeat("x", 2000) + `"}}`, 413, 8, "body_bytes"},
	}
	for _, c := range cases {
		res, body := call(t, "POST", url+"/v1/clips:analyze", strings.NewReader(c.body))
		var a answer
		if err := json.Unmarshal([]byte(body), &a); err != nil {
			t.Errorf("%s: %v: %s", c.name, err, body)
			continue
		}
		if res.StatusCode != c.code || a.Code != c.rpc || len(a.Details) == 0 {
			t.Errorf("%s: %d %s", c.name, res.StatusCode, body)
			continue
		}
		d := a.Details[0]
		if c.rpc == 8 && d.Metadata["limit"] != c.field || c.rpc == 3 && (len(d.FieldViolations) == 0 || d.FieldViolations[0].Field != c.field) {
			t.Errorf("%s: details %s, want %s", c.name, body, c.field)
		}
		if strings.ContainsRune(a.Message, '\u00a0') || strings.HasPrefix(a.Message, "proto:") {
			t.Errorf("%s: %q", c.name, a.Message)
		}
	}
	// Without a length, the limit shows while the body is read.
	res, body := call(t, "POST", url+"/v1/clips:analyze", io.MultiReader(strings.NewReader(`{"setup":{"locale":"`), strings.NewReader(strings.Repeat("x", 3000))))
	if res.StatusCode != http.StatusTooManyRequests || !strings.Contains(body, "body_bytes") {
		t.Errorf("%d %s", res.StatusCode, body)
	}
}

func TestBinaryBodies(t *testing.T) {
	url, _ := serve(t, Config{})
	raw, err := proto.Marshal(&pb.AnalyzeClipRequest{Frames: []*pb.Frame{{}, {}}})
	if err != nil {
		t.Fatal(err)
	}
	res, body := call(t, "POST", url+"/v1/clips:analyze", bytes.NewReader(raw), "Content-Type", "application/x-protobuf", "Accept", "application/x-protobuf")
	got := &pb.AnalyzeClipResponse{}
	if err := proto.Unmarshal([]byte(body), got); err != nil || len(got.Swings) != 2 || res.Header.Get("Content-Type") != "application/x-protobuf" {
		t.Errorf("%d %v %v", res.StatusCode, err, got)
	}
}

// TestAClipOf64MiBPasses posts 64 MiB of JSON.
func TestAClipOf64MiBPasses(t *testing.T) {
	if testing.Short() {
		t.Skip("makes a clip of 64 MiB")
	}
	url, _ := serve(t, Config{})
	frame := `{"image":[` + strings.Repeat("1234.5,", 50) + `1],"timeUs":"1"},`
	n := (64<<20)/len(frame) + 1
	body := `{"frames":[` + strings.Repeat(frame, n) + `{}]}`
	res, answer := call(t, "POST", url+"/v1/clips:analyze", strings.NewReader(body))
	if res.StatusCode != http.StatusOK || strings.Count(answer, `"id"`) != n+1 {
		t.Errorf("%d, %.200s", res.StatusCode, answer)
	}
}

func TestRequestIDsAndHeadersGoOn(t *testing.T) {
	url, m := serve(t, Config{})
	res, _ := call(t, "POST", url+"/v1/clips:analyze", strings.NewReader(`{"frames":[{}]}`),
		"X-Request-Id", "club-7", "Authorization", "Bearer x", "Cookie", "secret=1")
	md := <-m.seen
	if res.Header.Get("X-Request-Id") != "club-7" || md.Get("x-request-id")[0] != "club-7" || md.Get("authorization")[0] != "Bearer x" {
		t.Errorf("%v, metadata %v", res.Header, md)
	}
	if len(md.Get("cookie"))+len(md.Get("grpcgateway-cookie")) > 0 {
		t.Errorf("cookies went on: %v", md)
	}
	res, _ = call(t, "GET", url+"/healthz", nil, "X-Request-Id", "a b\tc")
	if id := res.Header.Get("X-Request-Id"); id == "a b\tc" || !goodID.MatchString(id) {
		t.Errorf("id %q", id)
	}
}

func TestCORS(t *testing.T) {
	url, _ := serve(t, Config{Origins: []string{"https://club.example"}})
	for origin, want := range map[string]string{"https://club.example": "https://club.example", "https://other.example": ""} {
		res, _ := call(t, "OPTIONS", url+"/v1/clips:analyze", nil, "Origin", origin, "Access-Control-Request-Method", "POST")
		if res.StatusCode != http.StatusNoContent || res.Header.Get("Access-Control-Allow-Origin") != want {
			t.Errorf("%s: %d %v", origin, res.StatusCode, res.Header)
		}
		res, _ = call(t, "GET", url+"/v1/catalog", nil, "Origin", origin)
		if res.StatusCode != http.StatusOK || res.Header.Get("Access-Control-Allow-Origin") != want {
			t.Errorf("%s: %d %v", origin, res.StatusCode, res.Header)
		}
	}
}

func TestReadinessFollowsTheService(t *testing.T) {
	url, m := serve(t, Config{})
	m.health.SetServingStatus("", healthpb.HealthCheckResponse_NOT_SERVING)
	if res, _ := call(t, "GET", url+"/readyz", nil); res.StatusCode != http.StatusServiceUnavailable {
		t.Errorf("ready: %d", res.StatusCode)
	}
	if res, _ := call(t, "GET", url+"/healthz", nil); res.StatusCode != http.StatusOK {
		t.Errorf("alive: %d", res.StatusCode)
	}
}

func TestNewNeedsAConnection(t *testing.T) {
	if _, err := New(Config{}); err == nil {
		t.Error("made without a connection")
	}
}

// FuzzDecode: no line may make the decoder panic, and what it takes must
// survive being written and read again.
func FuzzDecode(f *testing.F) {
	f.Add([]byte(`{"open":{"setup":{"layout":"POINT_LAYOUT_COCO_17"}}}`))
	f.Add([]byte(`{"frames":{"frames":[{"timeUs":"1","image":[1,2,"NaN"]}],"blocks":[{"image":{"steps":"AAA="}}]}}`))
	f.Add([]byte(`{"finish":{"frames":[1]}}`))
	f.Fuzz(func(t *testing.T, line []byte) {
		m, again := &pb.StreamPracticeRequest{}, &pb.StreamPracticeRequest{}
		if err := decode(line, m, 1000); err != nil {
			if s := jsonError(err.Error()); s.Message() == "" || len(s.Proto().Details) == 0 {
				t.Fatalf("an error without words: %v", s)
			}
			return
		}
		raw, err := encoder.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		if err := decode(raw, again, 1<<30); err != nil {
			t.Fatalf("%v\n%s", err, raw)
		}
	})
}
