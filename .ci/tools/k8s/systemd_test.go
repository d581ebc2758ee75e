package k8s

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestSystemd has systemd itself read the unit; the program's path is put to one that exists.
func TestSystemd(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	if err != nil {
		t.Skip("no systemd-analyze on this machine")
	}
	unit := strings.ReplaceAll(string(read(t, "systemd/courtkin.service")), "/usr/local/bin/courtkin", "/bin/true")
	path := filepath.Join(t.TempDir(), "courtkin.service")
	if err := os.WriteFile(path, []byte(unit), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(analyze, "verify", "--man=no", "--recursive-errors=no", path).CombinedOutput()
	if err != nil || len(out) > 0 {
		t.Errorf("%v\n%s", err, out)
	}
}
