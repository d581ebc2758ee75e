package gateway

import (
	"errors"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/coder/websocket"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// knock opens a WebSocket.
func knock(t *testing.T, url string, o *websocket.DialOptions) *websocket.Conn {
	t.Helper()
	conn, _, err := websocket.Dial(within(t), "ws"+strings.TrimPrefix(url, "http")+"/v1/practices/live", o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.CloseNow() })
	return conn
}

// say sends a message and, unless the stream then ends, returns the answer.
func say(t *testing.T, conn *websocket.Conn, text string) (*pb.StreamPracticeResponse, error) {
	t.Helper()
	kind, raw := websocket.MessageText, []byte(text)
	if conn.Subprotocol() == binaryProtocol {
		req := &pb.StreamPracticeRequest{}
		if err := protojson.Unmarshal(raw, req); err != nil {
			t.Fatal(err)
		}
		kind = websocket.MessageBinary
		raw, _ = proto.Marshal(req)
	}
	if err := conn.Write(within(t), kind, raw); err != nil {
		t.Fatal(err)
	}
	got, answer, err := conn.Read(within(t))
	if err != nil {
		return nil, err
	}
	if got != kind {
		t.Errorf("answered in %v", got)
	}
	res := &pb.StreamPracticeResponse{}
	if kind == websocket.MessageText {
		err = protojson.Unmarshal(answer, res)
	} else {
		err = proto.Unmarshal(answer, res)
	}
	if err != nil {
		t.Fatal(err)
	}
	return res, nil
}

func TestBothSubprotocols(t *testing.T) {
	url, _ := serve(t, Config{PingTime: 20 * time.Millisecond})
	for _, o := range []*websocket.DialOptions{
		{Subprotocols: []string{binaryProtocol}},
		{Subprotocols: []string{"else", textProtocol}},
		{Subprotocols: []string{textProtocol}, CompressionMode: websocket.CompressionContextTakeover},
		{},
	} {
		conn := knock(t, url, o)
		if res, err := say(t, conn, openLine); err != nil || res.GetOpened().GetServerVersion() != "made" {
			t.Fatalf("%v %v", res, err)
		}
		for i := range 3 {
			if res, err := say(t, conn, `{"frames":{"frames":[{}]}}`); err != nil || res.GetAck().GetReceived() != uint32(i+1) {
				t.Fatalf("%v %v", res, err)
			}
		}
		_, err := say(t, conn, `{"finish":{"frames":[3]}}`)
		if websocket.CloseStatus(err) != websocket.StatusNormalClosure {
			t.Errorf("%v: end %v", o.Subprotocols, err)
		}
	}
}

func TestCloseCodesSayWhy(t *testing.T) {
	url, _ := serve(t, Config{LineBytes: 300})
	for name, c := range map[string]struct {
		text string
		code websocket.StatusCode
		says string
	}{
		"no setup":      {`{"open":{}}`, 4003, "open.setup"},
		"malformed":     {`{"open":`, 4003, "unexpected"},
		"unknown field": {`{"opened":{}}`, 4003, `"opened"`},
		"too long":      {`{"open":{"practiceId":"` + strings.Repeat("x", 300) + `"}}`, 4008, "line_bytes"},
		"lost":          {`{"finish":{"frames":[9]}}`, 4015, "lost"},
	} {
		_, err := say(t, knock(t, url, &websocket.DialOptions{Subprotocols: []string{textProtocol}}), c.text)
		var end websocket.CloseError
		if !errors.As(err, &end) || end.Code != c.code || !strings.Contains(end.Reason, c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	conn := knock(t, url, &websocket.DialOptions{Subprotocols: []string{binaryProtocol}})
	if err := conn.Write(within(t), websocket.MessageText, []byte(openLine)); err != nil {
		t.Fatal(err)
	}
	if _, _, err := conn.Read(within(t)); websocket.CloseStatus(err) != 4003 {
		t.Errorf("text on the binary protocol: %v", err)
	}
}

func TestWhoMayKnock(t *testing.T) {
	url, _ := serve(t, Config{Origins: []string{"https://club.example"}})
	for _, c := range []struct {
		o    *websocket.DialOptions
		code int
	}{
		{&websocket.DialOptions{HTTPHeader: http.Header{"Origin": {"https://club.example"}}}, 101},
		{&websocket.DialOptions{HTTPHeader: http.Header{"Origin": {"https://other.example"}}}, 403},
		{&websocket.DialOptions{Subprotocols: []string{"else"}}, 400},
	} {
		conn, res, err := websocket.Dial(within(t), "ws"+strings.TrimPrefix(url, "http")+"/v1/practices/live", c.o)
		if res == nil || res.StatusCode != c.code {
			t.Errorf("%v: %v %v, want %d", c.o, res, err, c.code)
		}
		if err == nil {
			_ = conn.CloseNow()
		}
	}
}

func TestReasonsFitACloseFrame(t *testing.T) {
	for _, text := range []string{"", "short", strings.Repeat("x", 123), strings.Repeat("x", 124), strings.Repeat("ü", 100)} {
		got := reason(text)
		if len(got) > 123 || !strings.HasPrefix(text, strings.TrimSuffix(got, "…")) {
			t.Errorf("%d bytes of %q", len(got), got)
		}
	}
}
