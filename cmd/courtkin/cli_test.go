package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestMain lets the tests start this very program as a process of its own.
func TestMain(m *testing.M) {
	if args := os.Getenv("COURTKIN_TEST_RUN"); args != "" {
		os.Exit(run(context.Background(), strings.Split(args, "\n"), os.Stdin, os.Stdout, os.Stderr))
	}
	os.Exit(m.Run())
}

// output is what a run of the program gave.
type output struct {
	status   int
	out, err string
}

func try(t *testing.T, stdin string, args ...string) output {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 2*time.Minute)
	defer cancel()
	var out, errs bytes.Buffer
	status := run(ctx, args, strings.NewReader(stdin), &out, &errs)
	return output{status, out.String(), errs.String()}
}

// file writes a file and returns its name.
func file(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestExitStatus(t *testing.T) {
	empty := file(t, "empty.csv", "")
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{[]string{"--help"}, 0, ""},
		{[]string{"analyze", "--help"}, 0, ""},
		{[]string{"version"}, 0, ""},
		{[]string{"catalog"}, 0, ""},
		{nil, 2, "expected"},
		{[]string{"analyse"}, 2, "analyse"},
		{[]string{"analyze"}, 2, "file"},
		{[]string{"analyze", "--hz", "-3", empty}, 2, "--hz"},
		{[]string{"analyze", "--up", "q", empty}, 2, "--up"},
		{[]string{"analyze", "--axes", "court", "--up", "z", empty}, 2, "--up"},
		{[]string{"analyze", "--stroke", "dropshot", empty}, 2, "dropshot"},
		{[]string{"analyze", "--name", "tail=x", empty}, 2, "tail"},
		{[]string{"analyze", "--map", "nowhere.map", empty}, 2, "nowhere.map"},
		{[]string{"analyze", "nowhere.csv"}, 1, "nowhere.csv: no such file"},
		{[]string{"analyze", empty}, 1, "empty.csv: is empty"},
		{[]string{"analyze", filepath.Dir(empty)}, 1, "is a directory"},
		{[]string{"accuracy", "--swings", "0"}, 2, "--swings"},
		{[]string{"accuracy", "--condition", "X"}, 2, "condition"},
		{[]string{"stream", "--batch", "99", empty}, 2, "--batch"},
		{[]string{"serve", "--http-addr", "256.0.0.1:1"}, 1, "--http-addr"},
	} {
		o := try(t, "", c.args...)
		if o.status != c.status || !strings.Contains(o.err, c.says) {
			t.Errorf("%v: status %d, %q; want %d, %q", c.args, o.status, o.err, c.status, c.says)
		}
		if lines := strings.Count(o.err, "\n"); c.status == 0 && lines > 0 || c.status != 0 && lines != 1 {
			t.Errorf("%v: %d lines of error: %s", c.args, lines, o.err)
		}
	}
}
