package gateway

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"strings"
	"testing"

	"example.com/courtkin/proto"
)

// TestWhoHasItGets304: the catalog and the document of the routes.
func TestWhoHasItGets304(t *testing.T) {
	url, _ := serve(t, Config{})
	for _, path := range []string{"/v1/catalog", "/openapi.json"} {
		res, body := call(t, "GET", url+path, nil)
		tag := res.Header.Get("ETag")
		if res.StatusCode != http.StatusOK || body == "" || !strings.HasPrefix(tag, `W/"`) || res.Header.Get("Cache-Control") != "no-cache" {
			t.Errorf("%s: %d %v", path, res.StatusCode, res.Header)
		}
		for _, c := range []struct {
			said string
			code int
		}{
			{tag, 304}, {strings.TrimPrefix(tag, "W/"), 304}, {`"other", ` + tag, 304}, {"*", 304},
			{`"other"`, 200}, {"", 200}, {tag[:len(tag)-2] + `"`, 200},
		} {
			res, body := call(t, "GET", url+path, nil, "If-None-Match", c.said, "Accept-Encoding", "identity")
			if res.StatusCode != c.code || (body == "") != (c.code == 304) || res.Header.Get("ETag") != tag {
				t.Errorf("%s, %s: %d, %d bytes, %v", path, c.said, res.StatusCode, len(body), res.Header)
			}
		}
	}
	german, _ := call(t, "GET", url+"/v1/catalog?locale=de", nil)
	english, _ := call(t, "GET", url+"/v1/catalog?locale=en", nil)
	if german.Header.Get("ETag") == english.Header.Get("ETag") {
		t.Error("two languages with one tag")
	}
	if res, _ := call(t, "POST", url+"/v1/swings:compare", strings.NewReader("{}"), "If-None-Match", "*"); res.StatusCode != http.StatusNotImplemented || res.Header.Get("ETag") != "" {
		t.Errorf("a call: %d %v", res.StatusCode, res.Header)
	}
}

// TestServedDocument: what is served is what is validated.
func TestServedDocument(t *testing.T) {
	url, _ := serve(t, Config{})
	if _, body := call(t, "GET", url+"/openapi.json", nil, "Accept-Encoding", "identity"); body != string(proto.OpenAPI) {
		t.Errorf("%d bytes served, %d in the file", len(body), len(proto.OpenAPI))
	}
}

// TestJSONIsZipped for those who read gzip, and only what is worth it.
func TestJSONIsZipped(t *testing.T) {
	url, _ := serve(t, Config{})
	large := `{"frames":[` + strings.Repeat("{},", 100) + `{}]}`
	for _, c := range []struct {
		name, path, body, accept, as string
		zipped                       bool
	}{
		{"large", "/v1/clips:analyze", large, "gzip", "", true},
		{"one of several", "/v1/clips:analyze", large, "br, GZIP;q=0.5", "", true},
		{"anything", "/v1/clips:analyze", large, "*", "", true},
		{"small", "/v1/clips:analyze", `{"frames":[{}]}`, "gzip", "", false},
		{"refused", "/v1/clips:analyze", large, "gzip;q=0, *", "", false},
		{"not named", "/v1/clips:analyze", large, "br", "", false},
		{"protobuf", "/v1/clips:analyze", "\x12\x00\x12\x00", "gzip", "application/x-protobuf", false},
		{"error", "/v1/clips:analyze", `{}`, "gzip", "", false},
	} {
		headers := []string{"Accept-Encoding", c.accept}
		if c.as != "" {
			headers = append(headers, "Content-Type", c.as, "Accept", c.as)
		}
		plain, want := call(t, "POST", url+c.path, strings.NewReader(c.body), append([]string{"Accept-Encoding", "identity"}, headers[2:]...)...)
		res, got := call(t, "POST", url+c.path, strings.NewReader(c.body), headers...)
		if is := res.Header.Get("Content-Encoding") == "gzip"; is != c.zipped {
			t.Errorf("%s: zipped %v, %d", c.name, is, res.StatusCode)
			continue
		}
		if c.zipped {
			got = unzipped(t, got)
		}
		if got != want || res.StatusCode != plain.StatusCode {
			t.Errorf("%s: %d, %.100q, want %d, %.100q", c.name, res.StatusCode, got, plain.StatusCode, want)
		}
		if !strings.Contains(strings.Join(res.Header.Values("Vary"), ","), "Accept-Encoding") {
			t.Errorf("%s: Vary %v", c.name, res.Header.Values("Vary"))
		}
	}
	res, body := call(t, "GET", url+"/openapi.json", nil, "Accept-Encoding", "gzip")
	if res.Header.Get("Content-Encoding") != "gzip" || unzipped(t, body) != string(proto.OpenAPI) {
		t.Errorf("/openapi.json: %v", res.Header)
	}
}

func unzipped(t *testing.T, body string) string {
	t.Helper()
	z, err := gzip.NewReader(bytes.NewReader([]byte(body)))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// TestGuardedAnswers: every answer, errors too, has its id and the headers that
// keep browsers from doing more with it.
func TestGuardedAnswers(t *testing.T) {
	url, _ := serve(t, Config{})
	for _, c := range []struct{ method, path, keep string }{
		{"POST", "/v1/clips:analyze", "no-store"}, {"POST", "/v1/nothing", "no-store"}, {"GET", "/nothing", "no-store"},
		{"GET", "/v1/catalog", "no-cache"}, {"GET", "/healthz", "no-store"}, {"GET", "/v1/practices/live", "no-store"},
	} {
		res, _ := call(t, c.method, url+c.path, strings.NewReader("{}"), "X-Request-Id", "ball-9")
		for name, want := range map[string]string{
			"X-Request-Id": "ball-9", "X-Content-Type-Options": "nosniff", "Referrer-Policy": "no-referrer",
			"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'", "Cache-Control": c.keep,
		} {
			if got := res.Header.Get(name); got != want {
				t.Errorf("%s %s: %s %q, want %q", c.method, c.path, name, got, want)
			}
		}
	}
}
