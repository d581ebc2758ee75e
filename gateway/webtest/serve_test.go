package webtest

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	"example.com/courtkin/gateway"
	"example.com/courtkin/gateway/web"
)

// process is the service, once it runs.
var process *exec.Cmd

func TestMain(m *testing.M) {
	status := m.Run()
	if process != nil {
		_ = process.Process.Kill()
		_ = process.Wait()
	}
	if built != "" {
		_ = os.RemoveAll(built)
	}
	os.Exit(status)
}

// built is the folder of the program.
var built string

// running builds the program, starts the service, and returns its address.
var running = sync.OnceValues(func() (string, error) {
	var err error
	if built, err = os.MkdirTemp("", "courtkin"); err != nil {
		return "", err
	}
	program := filepath.Join(built, "courtkin")
	if said, err := exec.Command("go", "build", "-o", program, "example.com/courtkin/cmd/courtkin").CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build: %w\n%s", err, said)
	}
	process = exec.Command(program, "service", "--grpc-addr", "127.0.0.1:0")
	process.Stderr = os.Stderr
	out, err := process.StdoutPipe()
	if err != nil {
		return "", err
	}
	if err := process.Start(); err != nil {
		return "", err
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		if address, ok := strings.CutPrefix(lines.Text(), "gRPC"); ok {
			return strings.TrimSpace(address), nil
		}
	}
	return "", errors.New("the service did not say where it listens")
})

// server is a gateway before the service.
type server struct {
	*httptest.Server
	mu      sync.Mutex
	sockets map[net.Conn]bool // upgraded connections
	opened  int               // of them, ever
}

// serve starts the gateway; files and addOn are the page's. The service is one
// for all tests, as a process of its own: a detector of races in the tests'
// process would make it too slow for play at true speed.
func serve(t *testing.T, files, addOn fs.FS) *server {
	t.Helper()
	if testing.Short() {
		t.Skip("drives a browser")
	}
	address, err := running()
	if err != nil {
		t.Fatal(err)
	}
	conn, err := grpc.NewClient(address, grpc.WithTransportCredentials(insecure.NewCredentials()))
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
