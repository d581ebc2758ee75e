package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
)

// forehand is a made clip of one forehand in condition W.
func forehand(t testing.TB) *pb.AnalyzeClipRequest {
	t.Helper()
	m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Level: body.Advanced, Hand: body.RightHanded, Seed: 11})
	clip := synth.Shoot(m, synth.World, synth.View{Layout: synth.COCO17}, 11)
	return clipRequest(&clip)
}

// TestEveryFormatGivesTheSame reads one clip as JSON, lines of JSON, lines of a
// recorded stream, and binary protobuf, by name and from standard input.
func TestEveryFormatGivesTheSame(t *testing.T) {
	req := forehand(t)
	whole, err := protojson.Marshal(req)
	if err != nil {
		t.Fatal(err)
	}
	binary, err := proto.Marshal(req)
	if err != nil {
		t.Fatal(err)
	}
	lines := filepath.Join(t.TempDir(), "clip.ndjson")
	if err := writeLines(lines, req); err != nil {
		t.Fatal(err)
	}
	bare, err := os.ReadFile(lines)
	if err != nil {
		t.Fatal(err)
	}
	setup, rest, _ := strings.Cut(string(bare), "\n")
	want := try(t, "", "analyze", "--json", file(t, "clip.json", string(whole)))
	if want.status != 0 || strings.Count(want.out, "STROKE_FOREHAND") != 1 {
		t.Fatalf("%+.300v", want)
	}
	for name, o := range map[string]output{
		"binary":               try(t, "", "analyze", "--json", file(t, "clip.binpb", string(binary))),
		"lines":                try(t, "", "analyze", "--json", lines),
		"lines, setup named":   try(t, "", "analyze", "--json", file(t, "clip.jsonl", `{"setup":`+setup+"}\n\n"+rest)),
		"stream":               try(t, "", "analyze", "--json", file(t, "s.ndjson", recorded(t, req))),
		"standard input":       try(t, string(whole), "analyze", "--json", "-"),
		"lines on input":       try(t, string(bare), "analyze", "--json", "-"),
		"binary on input":      try(t, string(binary), "analyze", "--json", "-"),
		"told and not sniffed": try(t, string(whole), "analyze", "--format", "json", "--json", "-"),
	} {
		if o != want {
			t.Errorf("%s: status %d, %s", name, o.status, o.err)
		}
	}
}

// recorded is a clip as lines of a practice stream, with blocks.
func recorded(t *testing.T, req *pb.AnalyzeClipRequest) string {
	t.Helper()
	messages := []*pb.StreamPracticeRequest{
		{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{Setup: req.Setup}}},
		{Message: &pb.StreamPracticeRequest_Feed{Feed: &pb.StreamPracticeRequest_FeedNotice{}}},
		{Message: &pb.StreamPracticeRequest_Frames{Frames: &pb.StreamPracticeRequest_FrameBatch{Frames: req.Frames}}},
		{Message: &pb.StreamPracticeRequest_Finish_{Finish: &pb.StreamPracticeRequest_Finish{}}},
	}
	var out strings.Builder
	for _, m := range messages {
		raw, err := protojson.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		out.Write(append(raw, '\n'))
	}
	return out.String()
}

func TestTheTableIsForACoach(t *testing.T) {
	raw, err := proto.Marshal(forehand(t))
	if err != nil {
		t.Fatal(err)
	}
	o := try(t, string(raw), "analyze", "-")
	for _, want := range []string{"1 swing", "swing 1: forehand", "right-handed", "forward swing", "contact", "racket_speed.tip.contact", "m/s", "lag.max"} {
		if !strings.Contains(o.out, want) {
			t.Errorf("%q is missing in\n%s", want, o.out)
		}
	}
	if o.err != "" {
		t.Errorf("on the error output: %s", o.err)
	}
	if all := try(t, string(raw), "analyze", "--all", "-"); strings.Count(all.out, "\n") < strings.Count(o.out, "\n")+20 {
		t.Error("--all prints hardly more")
	}
}

func TestAFailureDoesNotStopTheOthers(t *testing.T) {
	raw, err := protojson.Marshal(forehand(t))
	if err != nil {
		t.Fatal(err)
	}
	good := file(t, "good.json", string(raw))
	o := try(t, "", "analyze", "nowhere.json", good)
	if o.status != 1 || !strings.Contains(o.out, "swing 1: forehand") || strings.Count(o.err, "\n") != 1 {
		t.Errorf("status %d, %s", o.status, o.err)
	}
}

// TestUnfitFiles: each gets one line that says where, and status 1.
func TestUnfitFiles(t *testing.T) {
	head := "t,nose_x,nose_y,nose_z,left_ankle_x,left_ankle_y,left_ankle_z\n"
	for _, c := range []struct{ name, text, says string }{
		{"a.json", `{"setup":{"layout":1},"frames":[`, "unexpected"},
		{"a.json", `{"setup":{"layout":1},"framez":[]}`, "framez"},
		{"a.json", `{"setup":{"layout":1}}`, "frames: the clip is empty"},
		{"a.json", `{"frames":[{}]}`, "setup: is required"},
		{"a.json", `{"setup":{"layout":1},"frames":[{},{}]}`, "frames[1].time_us"},
		{"a.json", `{"setup":{"layout":1},"frames":[{"image":["NaN"]}]}`, "frames[0].image"},
		{"a.ndjson", ``, "unexpected EOF"},
		{"a.ndjson", `{"layout":1}` + "\n" + `{"timeUs":"1"}` + "\n" + `{"timeUs":`, "line 3"},
		{"a.ndjson", `{"layouts":1}`, "line 1"},
		{"a.binpb", "\xff\xff", "truncated"},
		{"a.csv", head, "the clip is empty"},
		{"a.csv", head + "0,1,2,3,1,2\n", "line 2"},
		{"a.csv", head + "0,0,2,0,0,1,0\n0,0,2,0,0,1,0\n", "frames[1].time_us"},
		{"a.csv", head + "x,0,2,0,0,1,0\n", `line 2: "x" is no number`},
		{"a.csv", head + "inf,0,2,0,0,1,0\n", "line 2"},
		{"a.csv", head + "0,NaN,2,0,0,1,0\n", "frames[0].world"},
		{"a.csv", head + "0,0,1e30,0,0,1,0\n", "frames[0].world"},
		{"a.csv", head + "0,0,1,0,0,2,0\n", "no axis points up"},
		{"a.csv", "t,tail_x,tail_y,tail_z\n0,1,2,3\n", "known body point"},
		{"a.csv", "nose_x,nose_y,nose_z\n1,2,3\n", "--hz"},
		{"a.csv", "t,nose_x,nose_y,nose_z\n0,1,2,3\n", "--up"},
		{"a.csv", "\"\n", "line"},
	} {
		o := try(t, "", "analyze", file(t, c.name, c.text))
		if o.status != 1 || strings.Count(o.err, "\n") != 1 || !strings.Contains(o.err, c.says) {
			t.Errorf("%s %q: status %d, %q; want %q", c.name, c.text, o.status, o.err, c.says)
		}
	}
}

// asCSV writes a clip's world points as a table, each point turned by turn.
func asCSV(req *pb.AnalyzeClipRequest, rename func(string) string, turn func(x, y, z float32) [3]float32) string {
	names := map[int]string{}
	for i, p := range body.COCO17 {
		if p != body.Unused {
			names[i] = rename(p.String())
		}
	}
	var out strings.Builder
	w := csv.NewWriter(&out)
	head := []string{"t"}
	for i := range body.COCO17 {
		if names[i] != "" {
			head = append(head, names[i]+"_x", names[i]+"_y", names[i]+"_z")
		}
	}
	for _, n := range []string{"racket_tip", "racket_throat", "racket_butt", "racket_left", "racket_right", "ball"} {
		head = append(head, n+"_x", n+"_y", n+"_z")
	}
	_ = w.Write(head)
	for _, f := range req.Frames {
		row := []string{fmt.Sprintf("%.6f", float64(f.TimeUs)/1e6)}
		add := func(list []float32, i int) {
			if 4*i+3 >= len(list) || list[4*i+3] == 0 {
				row = append(row, "", "", "")
				return
			}
			for _, v := range turn(list[4*i], list[4*i+1], list[4*i+2]) {
				row = append(row, fmt.Sprintf("%.6f", v))
			}
		}
		for i := range body.COCO17 {
			if names[i] != "" {
				add(f.World, i)
			}
		}
		for i := range 5 {
			add(f.RacketWorld, i)
		}
		add(f.BallWorld, 0)
		_ = w.Write(row)
	}
	w.Flush()
	return out.String()
}

// TestTables reads one clip as CSV under other names, axes and units; the
// figures stay within a fraction of their errors.
func TestTables(t *testing.T) {
	req := forehand(t)
	same := func(s string) string { return s }
	short := func(s string) string {
		return strings.Replace(strings.Replace(s, "left_", "L_", 1), "right_", "R_", 1)
	}
	yUp := func(x, y, z float32) [3]float32 { return [3]float32{x, y, z} }
	zUp := func(x, y, z float32) [3]float32 { return [3]float32{x, -z, y} }
	xUp := func(x, y, z float32) [3]float32 { return [3]float32{y, x, -z} }
	inMM := func(x, y, z float32) [3]float32 { return [3]float32{1000 * x, 1000 * y, 1000 * z} }
	want := speedOf(t, try(t, asCSV(req, same, yUp), "analyze", "--json", "-"))
	for name, o := range map[string]output{
		"z up, found":   try(t, asCSV(req, same, zUp), "analyze", "--json", "-"),
		"z up, told":    try(t, asCSV(req, same, zUp), "analyze", "--json", "--up", "z", "-"),
		"x up, found":   try(t, asCSV(req, same, xUp), "analyze", "--json", "-"),
		"short names":   try(t, asCSV(req, short, yUp), "analyze", "--json", "-"),
		"millimetres":   try(t, asCSV(req, same, inMM), "analyze", "--json", "--unit", "mm", "-"),
		"named wrist":   try(t, strings.ReplaceAll(asCSV(req, same, yUp), "right_wrist_", "rw_"), "analyze", "--json", "--name", "right_wrist=rw", "-"),
		"mapping file":  try(t, strings.ReplaceAll(asCSV(req, same, yUp), "right_wrist_", "rw_"), "analyze", "--json", "--map", file(t, "m", "# mine\nright_wrist = rw\n"), "-"),
		"a byte mark":   try(t, "\ufeff"+asCSV(req, same, yUp), "analyze", "--json", "-"),
		"without times": try(t, asCSV(req, same, yUp), "analyze", "--json", "--hz", "120", "-"),
	} {
		got := speedOf(t, o)
		tol := 0.02 * want // rounding to 1 µm and 1 µs, and at most the frames' jitter of 1 ms
		if math.Abs(got-want) > tol {
			t.Errorf("%s: %.3f m/s, want %.3f", name, got, want)
		}
	}
}

// speedOf is the hand's speed at contact of the one forehand.
func speedOf(t *testing.T, o output) float64 {
	t.Helper()
	res := &pb.AnalyzeClipResponse{}
	if err := protojson.Unmarshal([]byte(o.out), res); err != nil || len(res.Swings) != 1 {
		t.Fatalf("%v, %d swings, status %d: %s", err, len(res.Swings), o.status, o.err)
	}
	for _, m := range res.Swings[0].Measures {
		if m.Name == "racket_speed.hand.contact" {
			return m.GetValue()
		}
	}
	t.Fatal("no hand speed")
	return 0
}

// recordings is where the recorded strokes lie, beside the project.
const recordings = "../../../shared/data/mocap"

// TestRecordedStrokes runs every recorded clip through the command.
func TestRecordedStrokes(t *testing.T) {
	files, _ := filepath.Glob(recordings + "/*.csv")
	if len(files) == 0 {
		t.Skipf("no recordings at %s", recordings)
	}
	for _, f := range files {
		if testing.Short() && strings.Contains(f, "tmseq_") {
			continue
		}
		o := try(t, "", "analyze", f)
		if o.status != 0 || o.err != "" || !strings.Contains(o.out, "swing 1:") {
			t.Errorf("%s: status %d, %s%.200s", filepath.Base(f), o.status, o.err, o.out)
		}
	}
}

func TestDemoShowsTheMainJob(t *testing.T) {
	clip := filepath.Join(t.TempDir(), "demo.ndjson")
	o := try(t, "", "demo", "--out", clip)
	if o.status != 0 || !strings.Contains(o.out, "8 made") || strings.Contains(o.out, "not found") || !strings.Contains(o.out, "swing 1:") {
		t.Errorf("status %d, %s\n%s", o.status, o.err, o.out)
	}
	if info, err := os.Stat(clip); err != nil || info.Size() < 1_000_000 {
		t.Errorf("%v %v", info, err)
	}
}

func TestAccuracyPrintsTheTable(t *testing.T) {
	o := try(t, "", "accuracy", "--swings", "2", "--seed", "5")
	if o.status != 0 || !strings.Contains(o.out, "swings found") || !strings.Contains(o.out, "CONTACT") {
		t.Errorf("status %d, %s\n%s", o.status, o.err, o.out)
	}
}

// FuzzClip: no file may make the readers panic.
func FuzzClip(f *testing.F) {
	for _, s := range []string{
		"t,nose_x,nose_y,nose_z,left_ankle_x,left_ankle_y,left_ankle_z\n0,0,2,0,0,1,0\n",
		"{\"layout\":1}\n{\"timeUs\":\"1\"}\n", `{"setup":{"layout":1},"frames":[{}]}`,
		"{\"open\":{\"setup\":{}}}\n{\"frames\":{\"blocks\":[{}]}}\n", "\x0a\x02\x08\x01\x12\x00",
	} {
		f.Add(s)
	}
	flags := clipFlags{Format: "auto", Hand: "left", Stroke: "serve", csvFlags: csvFlags{Axes: "level", Up: "auto", Unit: "m"}}
	f.Fuzz(func(t *testing.T, text string) {
		for _, name := range []string{"x", "x.csv", "x.ndjson"} {
			req, err := flags.clip(name, []byte(text))
			if (req == nil) == (err == nil) {
				t.Fatalf("%s: %v, %v", name, req, err)
			}
		}
	})
}
