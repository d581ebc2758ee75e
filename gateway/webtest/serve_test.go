package webtest

import (
	"bytes"
	"compress/gzip"
	"context"
	"encoding/json"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"sync"
	"testing"
	"testing/fstest"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"

	"example.com/courtkin/gateway"
	"example.com/courtkin/gateway/web"
	"example.com/courtkin/service"
)

// server is the gateway with the service behind it, as courtkin serve joins them.
type server struct {
	*httptest.Server
	mu      sync.Mutex
	sockets map[net.Conn]bool // upgraded connections
	opened  int               // of them, ever
}

// serve starts both; files and addOn are the page's.
func serve(t *testing.T, files, addOn fs.FS) *server {
	t.Helper()
	srv, err := service.New(service.Config{})
	if err != nil {
		t.Fatal(err)
	}
	inside := bufconn.Listen(1 << 20)
	rpc := grpc.NewServer(srv.Options()...)
	srv.Register(rpc)
	go func() { _ = rpc.Serve(inside) }()
	t.Cleanup(rpc.Stop)
	conn, err := grpc.NewClient("passthrough:///inside",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return inside.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	handler, err := gateway.New(gateway.Config{Conn: conn, Web: files, Pose: addOn})
	if err != nil {
		t.Fatal(err)
	}
	s := &server{sockets: map[net.Conn]bool{}}
	s.Server = httptest.NewUnstartedServer(handler)
	s.Config.ConnState = s.note
	s.Start()
	t.Cleanup(func() { s.cut(); s.Close() })
	return s
}

// note remembers upgraded connections, which an http.Server lets go of.
func (s *server) note(c net.Conn, state http.ConnState) {
	if state != http.StateHijacked {
		return
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sockets[c] = true
	s.opened++
}

// cut breaks every WebSocket off, as a lost network does, and says how many.
func (s *server) cut() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := len(s.sockets)
	for c := range s.sockets {
		_ = c.Close()
		delete(s.sockets, c)
	}
	return n
}

// connections is how many WebSockets were opened so far.
func (s *server) connections() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.opened
}

const recording = "demo/practice.json.gz"

// practice reads the page's made practice.
func practice(t *testing.T) map[string]json.RawMessage {
	t.Helper()
	zipped, err := fs.ReadFile(web.Files(), recording)
	if err != nil {
		t.Fatal(err)
	}
	r, err := gzip.NewReader(bytes.NewReader(zipped))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	var clip map[string]json.RawMessage
	if err := json.Unmarshal(raw, &clip); err != nil {
		t.Fatal(err)
	}
	return clip
}

// shortened returns the page with a made practice of its first frames alone,
// so that a test need not watch all of it.
func shortened(t *testing.T, frames int) fs.FS {
	t.Helper()
	clip := practice(t)
	var all []json.RawMessage
	if err := json.Unmarshal(clip["frames"], &all); err != nil {
		t.Fatal(err)
	}
	short, err := json.Marshal(map[string]any{"setup": clip["setup"], "frames": all[:min(frames, len(all))]})
	if err != nil {
		t.Fatal(err)
	}
	files := copied(t, web.Files())
	delete(files, recording)
	files["demo/practice.json"] = &fstest.MapFile{Data: short}
	return files
}

// copied reads files into memory, where a test may change them.
func copied(t *testing.T, from fs.FS) fstest.MapFS {
	t.Helper()
	files := fstest.MapFS{}
	err := fs.WalkDir(from, ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		raw, err := fs.ReadFile(from, name)
		files[name] = &fstest.MapFile{Data: raw}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}
