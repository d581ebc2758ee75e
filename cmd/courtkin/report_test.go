package main

import (
	"compress/gzip"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// firstBalls writes the beginning of the page's practice as a clip: two balls.
func firstBalls(t *testing.T) string {
	t.Helper()
	f, err := os.Open(madeFile)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	var clip map[string]any
	if err := json.Unmarshal(raw, &clip); err != nil {
		t.Fatal(err)
	}
	clip["frames"] = clip["frames"].([]any)[:520] // 8.7 s
	if raw, err = json.Marshal(clip); err != nil {
		t.Fatal(err)
	}
	name := filepath.Join(t.TempDir(), "two-balls.json")
	if err := os.WriteFile(name, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

func TestReportAndCompare(t *testing.T) {
	clip := firstBalls(t)
	page := filepath.Join(t.TempDir(), "out.html")
	if got := try(t, "", "report", clip, "-o", page); got.status != 0 {
		t.Fatal(got.err)
	}
	raw, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"two-balls.json", "Swings found: 2", "Tip speed at contact", `class="band first"`, `class="limb first"`} {
		if !strings.Contains(string(raw), want) {
			t.Errorf("the report lacks %q", want)
		}
	}
	if got := try(t, "", "report", clip, "--plot", "lag.angle", "--swing", "2"); got.status != 0 || !strings.HasPrefix(got.out, "<svg ") {
		t.Errorf("--plot: %d %s %.100s", got.status, got.err, got.out)
	}
	if got := try(t, "", "report", clip, "--plot", "no.such"); got.status != exitFailure || !strings.Contains(got.err, "racket_speed.tip") {
		t.Errorf("an unknown series: %d %s", got.status, got.err)
	}
	if got := try(t, "", "compare", clip, clip, "--candidate-swing", "2", "-o", "-"); got.status != 0 || !strings.Contains(got.out, "two-balls.json, swing 2") {
		t.Errorf("compare -o: %d %s %.100s", got.status, got.err, got.out)
	}
	if got := try(t, "", "compare", clip, clip); got.status != 0 || !strings.Contains(got.out, "\nsame ") || !columns.MatchString(got.out) || !strings.Contains(got.out, "  nothing\n") {
		t.Errorf("compare: %d %s %.300s", got.status, got.err, got.out)
	}
	if got := try(t, "", "compare", clip, clip, "--candidate-swing", "9"); got.status != exitFailure || !strings.Contains(got.err, "no swing 9: 2 swings found") {
		t.Errorf("swing 9: %d %s", got.status, got.err)
	}
}

// columns are the three of a comparison, with a measure in the first.
var columns = regexp.MustCompile(`\nsame +different +cannot tell\n[a-z_.]+ `)
