package web

import (
	"compress/gzip"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
)

func ask(t *testing.T, h http.Handler, method, path string, head ...string) *http.Response {
	t.Helper()
	r := httptest.NewRequestWithContext(t.Context(), method, path, nil)
	for i := 0; i+1 < len(head); i += 2 {
		r.Header.Set(head[i], head[i+1])
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w.Result()
}

func body(t *testing.T, r *http.Response) string {
	t.Helper()
	raw, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// own serves the program's own files, which it packs once.
var own = sync.OnceValues(func() (http.Handler, error) { return Handler(Files(), nil) })

func page(t *testing.T) http.Handler {
	t.Helper()
	h, err := own()
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestRoutes(t *testing.T) {
	h := page(t)
	for _, c := range []struct {
		method, path string
		status       int
		kind         string
	}{
		{"GET", "/", 200, "text/html; charset=utf-8"},
		{"HEAD", "/", 200, "text/html; charset=utf-8"},
		{"GET", "/api", 200, "text/html; charset=utf-8"},
		{"GET", "/clients", 200, "text/html; charset=utf-8"},
		{"GET", "/privacy", 200, "text/html; charset=utf-8"},
		{"GET", "/js/courtkin.js", 200, "text/javascript; charset=utf-8"},
		{"GET", "/sw.js", 200, "text/javascript; charset=utf-8"},
		{"GET", "/courtkin.webmanifest", 200, "application/manifest+json"},
		{"GET", "/demo/practice.json", 200, "application/json"},
		{"GET", "/js/../index.html", 200, "text/html; charset=utf-8"},
		{"POST", "/", 405, ""},
		{"GET", "/js/sw.js", 404, ""},
		{"GET", "/../web.go", 404, ""},
		{"GET", "/addon/pose/pose.js", 404, ""},
		{"GET", "/nothing", 404, ""},
	} {
		r := ask(t, h, c.method, c.path)
		if r.StatusCode != c.status || c.kind != "" && r.Header.Get("Content-Type") != c.kind {
			t.Errorf("%s %s: %d %s, want %d %s", c.method, c.path, r.StatusCode, r.Header.Get("Content-Type"), c.status, c.kind)
		}
	}
	if got := body(t, ask(t, h, "HEAD", "/")); got != "" {
		t.Errorf("HEAD has a body: %.40q", got)
	}
}

func TestUnchangedIsNotSentAgain(t *testing.T) {
	h := page(t)
	tag := ask(t, h, "GET", "/page.css").Header.Get("ETag")
	if r := ask(t, h, "GET", "/page.css", "If-None-Match", tag); r.StatusCode != http.StatusNotModified || body(t, r) != "" {
		t.Errorf("status %d", r.StatusCode)
	}
	if r := ask(t, h, "GET", "/page.css", "If-None-Match", `"else"`); r.StatusCode != http.StatusOK {
		t.Errorf("status %d for another tag", r.StatusCode)
	}
}

func TestPacked(t *testing.T) {
	h := page(t)
	plain := body(t, ask(t, h, "GET", "/demo/practice.json"))
	if !json.Valid([]byte(plain)) {
		t.Fatal("the practice is no JSON")
	}
	for accept, packed := range map[string]bool{"gzip": true, "br, gzip;q=0.8": true, "gzip;q=0": false, "identity": false, "xgzip": false} {
		r := ask(t, h, "GET", "/demo/practice.json", "Accept-Encoding", accept)
		if got := r.Header.Get("Content-Encoding") == "gzip"; got != packed {
			t.Errorf("%q: packed %v, want %v", accept, got, packed)
		}
		if !packed {
			continue
		}
		z, err := gzip.NewReader(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		if raw, err := io.ReadAll(z); err != nil || string(raw) != plain {
			t.Errorf("%q: %d bytes unpacked, %v; want %d", accept, len(raw), err, len(plain))
		}
	}
}

func TestGuard(t *testing.T) {
	h := page(t)
	policy := ask(t, h, "GET", "/").Header.Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'none'", "script-src 'self' 'wasm-unsafe-eval';", "connect-src 'self' ws://example.com wss://example.com;", "frame-ancestors 'none'"} {
		if !strings.Contains(policy, want) {
			t.Errorf("policy lacks %q: %s", want, policy)
		}
	}
	if strings.Contains(policy, "unsafe-inline") || strings.Contains(policy, "'unsafe-eval'") || strings.Contains(policy, "*") {
		t.Errorf("policy is loose: %s", policy)
	}
	r := httptest.NewRequestWithContext(t.Context(), "GET", "/", nil)
	r.Host = "x; script-src *"
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	if got := w.Result().Header.Get("Content-Security-Policy"); strings.Contains(got, "*") || strings.Contains(got, "ws:") {
		t.Errorf("a host of the caller's making comes into the policy: %s", got)
	}
}

// TestPageStaysHome looks for addresses of other machines in everything served.
func TestPageStaysHome(t *testing.T) {
	h, err := Handler(Files(), nil)
	if err != nil {
		t.Fatal(err)
	}
	allowed := regexp.MustCompile(`^https?://(www\.w3\.org/2000/svg|court\.example)`)
	for name, f := range h.(*handler).files {
		if strings.HasSuffix(name, ".png") {
			continue
		}
		for _, found := range regexp.MustCompile(`https?://[^\s"'<>)]+`).FindAllString(string(f.plain), -1) {
			if !allowed.MatchString(found) {
				t.Errorf("%s names %s", name, found)
			}
		}
		if strings.HasSuffix(name, ".html") && regexp.MustCompile(`(?i)<script(?:\s+type="module")?>|<style|\son\w+=|\sstyle=`).MatchString(string(f.plain)) {
			t.Errorf("%s holds a script or a style that the policy would refuse", name)
		}
	}
}

// TestWorkerKeepsEveryFile: what the page needs is in the list that is kept.
func TestWorkerKeepsEveryFile(t *testing.T) {
	h := page(t)
	source := body(t, ask(t, h, "GET", "/sw.js"))
	m := regexp.MustCompile(`JSON\.parse\('(.*?)'\)`).FindStringSubmatch(source)
	if m == nil || strings.Contains(source, "__FINGERPRINT__") {
		t.Fatalf("the worker was not filled in: %.300s", source)
	}
	var names []string
	if err := json.Unmarshal([]byte(m[1]), &names); err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		if r := ask(t, h, "GET", "/"+strings.TrimPrefix(name, "./")); r.StatusCode != http.StatusOK {
			t.Errorf("%s: %d", name, r.StatusCode)
		}
	}
	if len(names) != len(h.(*handler).files)-1 { // all but the worker itself
		t.Errorf("%d files are kept of %d", len(names), len(h.(*handler).files)-1)
	}
	files := fstest.MapFS{"index.html": {Data: []byte("a")}, "js/sw.js": {Data: []byte("__FINGERPRINT__")}}
	first := fingerprint(t, files)
	files["index.html"] = &fstest.MapFile{Data: []byte("b")}
	if fingerprint(t, files) == first {
		t.Error("a changed page has the fingerprint of the old one")
	}
}

func fingerprint(t *testing.T, files fstest.MapFS) string {
	t.Helper()
	h, err := Handler(files, nil)
	if err != nil {
		t.Fatal(err)
	}
	return body(t, ask(t, h, "GET", "/sw.js"))
}

func TestAddOn(t *testing.T) {
	h, err := Handler(Files(), fstest.MapFS{"pose.js": {Data: []byte("x")}, "package.json": {Data: []byte("{}")}, "pose_landmark_heavy.tflite": {Data: []byte("y")}})
	if err != nil {
		t.Fatal(err)
	}
	for path, status := range map[string]int{
		"/addon/pose/pose.js": 200, "/addon/pose/package.json": 404, "/addon/pose/pose_landmark_heavy.tflite": 404,
		"/addon/pose/pose_web.binarypb": 404, "/addon/pose/": 404,
	} {
		if r := ask(t, h, "GET", path); r.StatusCode != status {
			t.Errorf("%s: %d, want %d", path, r.StatusCode, status)
		}
	}
}

func TestUnfitFiles(t *testing.T) {
	for name, files := range map[string]fstest.MapFS{
		"no worker":    {"index.html": {Data: []byte("x")}},
		"broken gzip":  {"js/sw.js": {Data: []byte("x")}, "a.json.gz": {Data: []byte("no gzip")}},
		"cut-off gzip": {"js/sw.js": {Data: []byte("x")}, "a.json.gz": {Data: []byte("\x1f\x8b\x08\x00\x00\x00\x00\x00\x00\xff")}},
	} {
		if _, err := Handler(files, nil); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
