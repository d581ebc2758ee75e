package main

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// clipFolder fills a folder with n short clips and returns it.
func clipFolder(t *testing.T, n, frames int) string {
	t.Helper()
	dir := t.TempDir()
	for i := range n {
		req := &pb.AnalyzeClipRequest{Setup: &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17}}
		for k := range frames {
			req.Frames = append(req.Frames, &pb.Frame{Index: uint32(k), TimeUs: int64(k) * 16_667, Image: make([]float32, 51)})
		}
		raw, err := protojson.Marshal(req)
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, fmt.Sprintf("court-%d", i%3), fmt.Sprintf("%03d.json", i))
		if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(name, raw, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return dir
}

// results returns what a folder of results holds: the names, and those that are
// no whole JSON or were left aside.
func results(t *testing.T, dir string) (whole map[string]time.Time, bad []string) {
	t.Helper()
	whole = map[string]time.Time{}
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err != nil || info.IsDir() {
			return err
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		if !json.Valid(raw) || strings.HasSuffix(path, ".part") {
			bad = append(bad, path)
			return nil
		}
		whole[path] = info.ModTime()
		return nil
	})
	if err != nil && !os.IsNotExist(err) {
		t.Fatal(err)
	}
	return whole, bad
}

func TestBatchDoesWhatIsLeft(t *testing.T) {
	clips, out := clipFolder(t, 7, 3), filepath.Join(t.TempDir(), "results")
	o := try(t, "", "batch", "--out", out, clips)
	if o.status != 0 || !strings.Contains(o.out, "7 clips: 7 analysed, 0 had results, 0 failed, 0 left") {
		t.Fatalf("%+v", o)
	}
	first, bad := results(t, out)
	if len(first) != 7 || len(bad) != 0 {
		t.Fatalf("%v %v", first, bad)
	}
	lost := filepath.Join(out, "court-1", "004.json.json")
	if err := os.Remove(lost); err != nil {
		t.Fatal(err)
	}
	o = try(t, "", "batch", "--out", out, clips)
	if o.status != 0 || !strings.Contains(o.out, "7 clips: 1 analysed, 6 had results") {
		t.Errorf("%+v", o)
	}
	second, _ := results(t, out)
	for name, at := range first {
		if name != lost && !second[name].Equal(at) {
			t.Errorf("%s was written again", name)
		}
	}
}

// TestShardsShareTheWork: together the shards do every clip, and none twice.
func TestShardsShareTheWork(t *testing.T) {
	clips, out := clipFolder(t, 8, 2), t.TempDir()
	for i, want := range []string{"3 clips: 3 analysed", "3 clips: 3 analysed", "2 clips: 2 analysed"} {
		o := try(t, "", "batch", "--out", out, "--shard", fmt.Sprintf("%d/3", i), clips)
		if o.status != 0 || !strings.Contains(o.out, want+", 0 had results") {
			t.Errorf("shard %d: %+v", i, o)
		}
	}
	if whole, _ := results(t, out); len(whole) != 8 {
		t.Errorf("%d results", len(whole))
	}
	for _, bad := range []string{"3/3", "-1/3", "1", "0/0", "1/2x", "01/2"} {
		if o := try(t, "", "batch", "--out", out, "--shard="+bad, clips); o.status != exitUsage {
			t.Errorf("--shard=%s: %+v", bad, o)
		}
	}
}

func TestBatchGoesOnPastABadClip(t *testing.T) {
	clips, out := clipFolder(t, 3, 2), t.TempDir()
	if err := os.WriteFile(filepath.Join(clips, "broken.json"), []byte(`{"setup":`), 0o644); err != nil {
		t.Fatal(err)
	}
	o := try(t, "", "batch", "--out", out, clips)
	if o.status != exitFailure || !strings.Contains(o.out, "3 analysed, 0 had results, 1 failed") || !strings.Contains(o.err, "broken.json") {
		t.Errorf("%+v", o)
	}
}

// TestBatchSurvivesKills kills the run at growing instants until one run ends by
// itself; every result is whole at each instant, and none is made twice.
func TestBatchSurvivesKills(t *testing.T) {
	many := 40
	if testing.Short() { // under the race detector a clip takes ten times as long
		many = 12
	}
	clips, out := clipFolder(t, many, 1500), t.TempDir()
	program, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	seen := map[string]time.Time{}
	kills := 0
	for wait := 300 * time.Millisecond; ; wait += 100 * time.Millisecond {
		c := exec.Command(program)
		c.Env = append(os.Environ(), "COURTKIN_TEST_RUN="+strings.Join([]string{"batch", "--workers=2", "--out=" + out, clips}, "\n"))
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		timer := time.AfterFunc(wait, func() { _ = c.Process.Kill() })
		err := c.Wait()
		timer.Stop()
		now, bad := results(t, out)
		for _, b := range bad {
			if !strings.HasSuffix(b, ".part") {
				t.Errorf("not whole: %s", b)
			}
		}
		for name, at := range seen {
			if !now[name].Equal(at) {
				t.Errorf("%s was made again", name)
			}
		}
		seen = now
		if err == nil {
			if len(now) != many || len(bad) != 0 {
				t.Errorf("at the end %d results, and %v", len(now), bad)
			}
			break
		}
		if kills++; kills > 200 {
			t.Fatal("it never ends")
		}
	}
	t.Logf("killed %d times", kills)
	if kills == 0 {
		t.Error("was never killed")
	}
}

func TestBudget(t *testing.T) {
	b := newBudget(10)
	n, err := b.take(t.Context(), 99)
	if n != 10 || err != nil {
		t.Fatalf("%d %v", n, err)
	}
	got := make(chan int64)
	go func() { n, _ := b.take(t.Context(), 4); got <- n }()
	select {
	case <-got:
		t.Error("more was taken than there is")
	case <-time.After(20 * time.Millisecond):
	}
	b.free(10)
	if n := <-got; n != 4 {
		t.Errorf("%d", n)
	}
}
