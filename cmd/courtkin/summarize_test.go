package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// TestSummarize: a clip, its saved answer, a folder that holds the answer, and
// a stream's lines are the same practice.
func TestSummarize(t *testing.T) {
	clip := firstBalls(t)
	answer := try(t, "", "analyze", "--json", clip)
	if answer.status != 0 {
		t.Fatal(answer.err)
	}
	saved := file(t, "answer.json", answer.out)
	want := try(t, "", "summarize", "--json", clip)
	res := &pb.SummarizePracticeResponse{}
	if err := protojson.Unmarshal([]byte(want.out), res); want.status != 0 || err != nil || len(res.Counts) != 1 || res.Counts[0].Count != 2 {
		t.Fatalf("%v %+.300v", err, want)
	}
	for name, o := range map[string]output{
		"answer":         try(t, "", "summarize", "--json", saved),
		"folder":         try(t, "", "summarize", "--json", filepath.Dir(saved)),
		"standard input": try(t, answer.out, "summarize", "--json", "-"),
		"stream":         try(t, "", "summarize", "--json", file(t, "lines.ndjson", streamed(t, answer.out))),
	} {
		if o.status != 0 || !sameSummary(t, o.out, res) {
			t.Errorf("%s: %d %s %.200s", name, o.status, o.err, o.out)
		}
	}
	baseline := file(t, "before.json", want.out)
	table := try(t, "", "summarize", "--baseline", baseline, saved)
	for _, say := range []string{"Played: 2 × forehand.", "typical: " + saved + ", swing", "\nforehand, 2 swings\n", "racket_speed.tip.contact", "cannot tell"} {
		if table.status != 0 || !strings.Contains(table.out, say) {
			t.Errorf("no %q in %d %s %s", say, table.status, table.err, table.out)
		}
	}
	if o := try(t, "", "summarize", "--locale", "de", saved); !strings.Contains(o.out, "2 × Vorhand") {
		t.Errorf("de: %+v", o)
	}
}

// streamed are the lines that a stream would have answered.
func streamed(t *testing.T, answer string) string {
	t.Helper()
	clip := &pb.AnalyzeClipResponse{}
	if err := protojson.Unmarshal([]byte(answer), clip); err != nil {
		t.Fatal(err)
	}
	lines := `{"opened":{"serverVersion":"made"}}` + "\n" + `{"ack":{"received":8}}` + "\n"
	for _, s := range clip.Swings {
		lines += jsonOf(t, &pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Swing{Swing: s}}) + "\n"
	}
	return lines
}

// sameSummary compares all but the sentences' blanks, which protojson varies.
func sameSummary(t *testing.T, raw string, want *pb.SummarizePracticeResponse) bool {
	t.Helper()
	got := &pb.SummarizePracticeResponse{}
	if err := protojson.Unmarshal([]byte(raw), got); err != nil {
		t.Fatal(err)
	}
	return got.Summary == want.Summary && len(got.Figures) == len(want.Figures) && got.BestSwingId == want.BestSwingId
}

// TestSummarizeGoesOn: what cannot be read is told, the rest is looked over,
// and the exit status says that not all was well.
func TestSummarizeGoesOn(t *testing.T) {
	swing := `{"swings":[{"id":"a","stroke":"STROKE_SERVE"}]}`
	good, bad := file(t, "good.json", swing), file(t, "bad.json", `{"swings":[{"stroke":[]}]}`)
	empty := t.TempDir()
	if err := os.WriteFile(filepath.Join(empty, "notes.txt"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	o := try(t, "", "summarize", bad, good, "nowhere.json", empty)
	if o.status != exitFailure || !strings.Contains(o.out, "1 × serve") || strings.Count(o.err, "\n") != 3 || !strings.Contains(o.err, "nowhere.json: no such file") {
		t.Errorf("%+v", o)
	}
	for _, c := range []struct {
		args   []string
		status int
		says   string
	}{
		{[]string{"summarize"}, exitUsage, "path"},
		{[]string{"summarize", "--level", "master", good}, exitUsage, "--level"},
		{[]string{"summarize", "--stature", "9", good}, exitFailure, "stature_m"},
		{[]string{"summarize", "--baseline", "gone.json", good}, exitFailure, "gone.json: no such file"},
		{[]string{"summarize", "--baseline", file(t, "b.json", "[]"), good}, exitFailure, "b.json"},
		{[]string{"summarize", file(t, "none.json", `{"swings":[]}`)}, exitFailure, "no swings"},
		{[]string{"summarize", file(t, "cut.json", swing[:20])}, exitFailure, "cut.json"},
	} {
		if o := try(t, "", c.args...); o.status != c.status || !strings.Contains(o.err, c.says) || strings.Count(o.err, "\n") != 1 {
			t.Errorf("%v: %+v", c.args, o)
		}
	}
}

func TestBallsAreToldAsSeen(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{sideways(1.25), "1.2 m to the player's right"}, {sideways(-0.5), "0.5 m to the player's left"}, {sideways(0), "straight to the player"},
		{spin(20), "20 turns a second of topspin"}, {spin(-8), "8 turns a second of backspin"}, {spin(0), "no spin"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
