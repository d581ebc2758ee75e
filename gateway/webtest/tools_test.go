package webtest

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// toolFolder holds the pinned tools of the page.
const toolFolder = "../../.ci/tools/web"

var installed = sync.OnceValues(func() ([]byte, error) {
	lock, err := os.Stat(filepath.Join(toolFolder, "package-lock.json"))
	if err != nil {
		return nil, err
	}
	have, err := os.Stat(filepath.Join(toolFolder, "node_modules", ".package-lock.json"))
	if err == nil && !have.ModTime().Before(lock.ModTime()) {
		return nil, nil
	}
	return exec.Command("npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", toolFolder).CombinedOutput()
})

// tools installs the pinned tools when they are missing or old.
func tools(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("needs npm")
	}
	if said, err := installed(); err != nil {
		t.Fatalf("npm ci: %v\n%s", err, said)
	}
}

// TestCompiledIsCurrent compiles the page's TypeScript and compares.
func TestCompiledIsCurrent(t *testing.T) {
	tools(t)
	fresh := t.TempDir()
	if said, err := exec.Command(filepath.Join(toolFolder, "build"), fresh).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	const kept = "../web/page/js"
	want, got := names(t, fresh), names(t, kept)
	if strings.Join(want, " ") != strings.Join(got, " ") {
		t.Fatalf("page/js holds %v; ts compiles to %v: run .ci/tools/web/build", got, want)
	}
	for _, name := range want {
		a, err := os.ReadFile(filepath.Join(fresh, name))
		if err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(filepath.Join(kept, name))
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(a, b) {
			t.Errorf("page/js/%s is not what ts compiles to: run .ci/tools/web/build", name)
		}
	}
}

func names(t *testing.T, folder string) []string {
	t.Helper()
	entries, err := os.ReadDir(folder)
	if err != nil {
		t.Fatal(err)
	}
	var all []string
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

// TestClient runs the client module's own tests, in Node.
func TestClient(t *testing.T) {
	tools(t)
	if said, err := exec.Command("node", "--test", "client.test.mjs").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
}
