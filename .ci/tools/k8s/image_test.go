package k8s

import (
	"bufio"
	"bytes"
	"context"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// staged is the image's content in a folder: no engine is needed to see that
// the program runs with nothing else around it.
type staged struct{ dir string }

// stage builds the program with the Dockerfile's own flags.
func stage(t *testing.T) staged {
	t.Helper()
	if main, _ := filepath.Glob(root + "/cmd/courtkin/*.go"); len(main) == 0 {
		t.Skip("cmd/courtkin has no Go files")
	}
	dir := t.TempDir()
	flags := regexp.MustCompile(`-trimpath -buildvcs=false`).FindString(string(read(t, "image/Dockerfile")))
	if flags == "" {
		t.Fatal("the Dockerfile builds with other flags than this test")
	}
	compile(t, root, dir+"/courtkin")
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	return staged{dir}
}

// compile builds the program from a folder with the source.
func compile(t *testing.T, from, to string) {
	t.Helper()
	build := exec.Command("go", "build", "-trimpath", "-buildvcs=false", "-ldflags=-s -w -buildid=", "-o", to, "./cmd/courtkin")
	build.Dir = from
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
}

// TestImageIsReproducible builds from what the Dockerfile copies, in a folder
// of another name, and expects the same bytes.
func TestImageIsReproducible(t *testing.T) {
	here := stage(t).dir + "/courtkin"
	copied := t.TempDir()
	for _, path := range []string{"go.mod", "go.sum", "cmd", "gateway", "proto", "service"} {
		if out, err := exec.Command("cp", "-r", filepath.Join(root, path), copied).CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
	}
	there := filepath.Join(t.TempDir(), "courtkin")
	compile(t, copied, there)
	a, err := os.ReadFile(here)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(there)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("two builds of the same source differ")
	}
}

// command runs a program of the image as the image's user, in the image's
// root where this process may (it must be root for that).
func (s staged) command(ctx context.Context, argv ...string) *exec.Cmd {
	if os.Geteuid() != 0 {
		return exec.CommandContext(ctx, s.dir+argv[0], argv[1:]...)
	}
	c := exec.CommandContext(ctx, argv[0], argv[1:]...)
	c.Dir = "/"
	c.SysProcAttr = &syscall.SysProcAttr{Chroot: s.dir, Credential: &syscall.Credential{Uid: 65532, Gid: 65532}}
	c.Env = []string{"PATH=/"}
	return c
}

// freePort returns a loopback address that nobody listens on.
func freePort(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// get asks a running server and returns the status and the body; status 0 is no answer.
func get(url string) (int, string) {
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Second)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return 0, ""
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return 0, ""
	}
	defer response.Body.Close()
	body, _ := io.ReadAll(io.LimitReader(response.Body, 1<<20))
	return response.StatusCode, string(body)
}

// TestImageRuns starts the image's own command in the image's own layout.
func TestImageRuns(t *testing.T) {
	s := stage(t)
	as := lastStage(t)
	httpAddr, grpcAddr := freePort(t), freePort(t)
	ports := strings.NewReplacer("0.0.0.0:8080", httpAddr, "0.0.0.0:9090", grpcAddr)
	argv := slices.Concat(as.entrypoint, as.cmd)
	for i := range argv {
		argv[i] = ports.Replace(argv[i])
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	server := s.command(ctx, argv...)
	var said strings.Builder
	server.Stdout, server.Stderr = &said, &said
	if err := server.Start(); err != nil {
		t.Fatal(err)
	}
	defer server.Process.Kill()
	status := 0
	for range 100 {
		if status, _ = get("http://" + httpAddr + "/healthz"); status == http.StatusOK {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	if status != http.StatusOK {
		t.Fatalf("/healthz answers %d; the program said:\n%s", status, &said)
	}
	t.Run("readyz", func(t *testing.T) { checkReady(t, httpAddr) })
	t.Run("metrics", func(t *testing.T) { checkExposed(t, httpAddr) })
	if err := server.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if err := server.Wait(); err != nil {
		t.Errorf("after SIGTERM: %v\n%s", err, &said)
	}
}

// checkReady asks as the readiness probes do.
func checkReady(t *testing.T, addr string) {
	if status, _ := get("http://" + addr + "/readyz"); status != http.StatusOK {
		t.Errorf("/readyz answers %d, and every readiness probe asks there", status)
	}
}

// checkExposed sees that the server shows no metric of its own that metrics.md lacks.
func checkExposed(t *testing.T, addr string) {
	status, body := get("http://" + addr + "/metrics")
	if status == http.StatusNotFound {
		t.Skip("no /metrics yet")
	}
	_, names := listed(t)
	lines := bufio.NewScanner(strings.NewReader(body))
	for lines.Scan() {
		f := strings.Fields(lines.Text())
		if len(f) == 4 && f[1] == "TYPE" && strings.HasPrefix(f[2], "courtkin") && !names[f[2]] {
			t.Errorf("%s is not in metrics.md", f[2])
		}
	}
}

// TestSettings holds settings.md to the program: what the page says is read
// must be in the help of "courtkin serve", and what is in the help must not be
// told as "not yet". Settings in the manifests must be on the page.
func TestSettings(t *testing.T) {
	page := string(read(t, "settings.md"))
	row := regexp.MustCompile("(?m)^\\| `(COURTKIN_[A-Z_]+)` \\| `(--[a-z-]+)` \\|.*\\| (yes|not yet) \\|$")
	rows := row.FindAllStringSubmatch(page, -1)
	if len(rows) < 4 {
		t.Fatalf("read only %d settings", len(rows))
	}
	var named []string
	for _, m := range rows {
		named = append(named, m[1])
	}
	t.Run("manifests", func(t *testing.T) {
		text := string(read(t, "kustomize/base/settings.env")) + string(read(t, "compose/compose.yaml"))
		for _, m := range regexp.MustCompile(`(?m)^\s*(COURTKIN_[A-Z_]+)[=:]`).FindAllStringSubmatch(text, -1) {
			if !slices.Contains(named, m[1]) {
				t.Errorf("%s is not in settings.md", m[1])
			}
		}
	})
	t.Run("help", func(t *testing.T) {
		ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		help, err := stage(t).command(ctx, "/courtkin", "serve", "--help").CombinedOutput()
		if err != nil {
			t.Fatalf("%v\n%s", err, help)
		}
		for _, m := range rows {
			if read := strings.Contains(string(help), m[2]); read != (m[3] == "yes") {
				t.Errorf("settings.md says of %s: %s; in the help: %v", m[2], m[3], read)
			}
		}
	})
}
