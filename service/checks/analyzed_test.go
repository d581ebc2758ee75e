package checks

import (
	"bytes"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

// program builds the command line tool, once, from the source beside this test.
func program(t *testing.T) string {
	t.Helper()
	const source = "../../cmd/courtkin"
	files, err := filepath.Glob(source + "/*.go")
	if err != nil || len(files) == 0 {
		t.Fatal("no source of the command line tool:", err)
	}
	for _, f := range files { // so that go test sees them change
		if _, err := os.ReadFile(f); err != nil {
			t.Fatal(err)
		}
	}
	out := filepath.Join(t.TempDir(), "courtkin")
	if text, err := exec.Command("go", "build", "-buildvcs=false", "-o", out, source).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return out
}

// found is what `courtkin analyze --json --trace` says of each recording, by name.
type found map[string][]*measure.Sheet

var analysis struct {
	sync.Once
	found
	raw map[string][]*pb.Swing
}

// analysed runs the command line tool over all recordings, once.
func analysed(t *testing.T) found {
	t.Helper()
	all := recorded(t)
	analysis.Do(func() {
		var names []string
		for _, r := range all {
			names = append(names, filepath.Join(mocap, r.name+".csv"))
		}
		var complaint bytes.Buffer
		cmd := exec.Command(program(t), append([]string{"analyze", "--json", "--trace"}, names...)...)
		cmd.Stderr = &complaint
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("%v\n%s", err, complaint.String())
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		if len(lines) != len(all) {
			t.Fatalf("%d answers for %d files", len(lines), len(all))
		}
		f, raw := found{}, map[string][]*pb.Swing{}
		for i, r := range all {
			var res pb.AnalyzeClipResponse
			if err := protojson.Unmarshal([]byte(lines[i]), &res); err != nil {
				t.Fatal(err)
			}
			if f[r.name], err = wire.Sheets(res.Swings, r.name, 100); err != nil {
				t.Fatal(err)
			}
			raw[r.name] = res.Swings
		}
		analysis.found, analysis.raw = f, raw
	})
	if analysis.found == nil {
		t.Skip("the recordings could not be analysed; see the first failure")
	}
	return analysis.found
}

// play puts frames through the machine.
func play(s swing.Setup, frames []body.Frame) ([]*measure.Sheet, error) {
	m, err := swing.New(s)
	if err != nil {
		return nil, err
	}
	var out sheets
	for i := range frames {
		if err := m.Push(&frames[i], &out); err != nil {
			return nil, err
		}
	}
	m.Finish(&out)
	return out, nil
}

// each calls do(i) for i in [0, n) on as many goroutines as there are processors.
func each(n int, do func(i int)) {
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
}

// when is an event's instant on the frames' clock, s; NaN when absent.
func when(s *measure.Sheet, k phase.EventKind) float64 {
	e, ok := s.Event(k)
	if !ok {
		return math.NaN()
	}
	return float64(s.StartUS)*1e-6 + e.Time
}

// figure is a figure's value; NaN when it has none.
func figure(s *measure.Sheet, name string) float64 {
	f, ok := s.Figure(name)
	if !ok || !f.Known() {
		return math.NaN()
	}
	return f.Value
}

// curveOf is a trace's curve; nil when it has none.
func curveOf(s *measure.Sheet, name string) []float64 {
	if s.Trace == nil {
		return nil
	}
	for _, c := range s.Trace.Series {
		if c.Name == name {
			v := make([]float64, len(c.Values))
			for i := range v {
				v[i] = float64(c.Values[i])
			}
			return v
		}
	}
	return nil
}
