package main

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// TestBatchFullDisk writes to a folder that takes nothing: the run ends at once
// with one clear error and leaves no part of a result.
func TestBatchFullDisk(t *testing.T) {
	clips := clipFolder(t, 5, 600)
	out := smallDisk(t)
	o := try(t, "", "batch", "--workers", "1", "--trace", "--out", out, clips)
	if o.status != exitFailure || !strings.Contains(o.err, "no space left") || strings.Count(o.err, "\n") != 1 {
		t.Errorf("%+v", o)
	}
	whole, bad := results(t, out)
	if len(whole) != 0 || len(bad) != 1 || filepath.Base(bad[0]) != ballast {
		t.Errorf("left behind: %v %v", whole, bad)
	}
}

// ballast is the file that fills the small disk.
const ballast = ".ballast"

// smallDisk mounts a file system of one page, which takes folders and no file's content.
func smallDisk(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("courtkin-test", dir, "tmpfs", 0, "size=4k"); err != nil {
		t.Skip("mounting needs root:", err)
	}
	t.Cleanup(func() { _ = syscall.Unmount(dir, syscall.MNT_DETACH) })
	// One page is the least that tmpfs allows: take it.
	if err := os.WriteFile(filepath.Join(dir, ballast), make([]byte, 4096), 0o644); err != nil {
		t.Fatal(err)
	}
	return dir
}
