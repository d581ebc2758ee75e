package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// strokes is a second simulator of strokes, written in Python apart from service/synth
// and sharing nothing with it: another body, another law of timing, another noise.
// What the engine learned from one made world only, it gets wrong in the other.
const strokes = "../../testdata/reference/strokes"

// floor is what the answers to a condition's clips must keep. Floors, not goals: the
// goals are for many swings, and these are few, of postures and speeds that are
// invented. They were set after the fact, a third or so under the worst of seeds 3, 5
// and 7: guards against getting worse, no proof of being good. The largest turn in I
// (14° on this seed) and contact in B (29 ms early: this simulator's hands are fastest
// 20 to 70 ms before contact) fall far short of the goals.
type floor struct {
	condition   string
	swings      int
	found       float64 // %, at least
	lost        float64 // % of answers that are no stroke, at most
	named       float64 // % of the found, at least
	contact     float64 // ms, median, at most
	tip         float64 // %, median, at most; NaN: not measured
	turn        float64 // deg, median of turn.shoulders.max, at most
	hands       float64 // cm, median of spacing.hands, at most
	inside      float64 // % of measures whose interval holds the truth, at least
	measureLies float64 // % of measures more than 4 sd off, at most
	eventLies   float64 // % of events likewise
}

var floors = []floor{
	{"W", 10, 70, 20, 75, 2, 5, 2, 2, 80, 8, 10},
	{"T", 10, 70, 20, 75, 4, 6, 4, 3, 85, 5, 10},
	{"P", 10, 60, 20, 75, 5, 8, 8, 6, 85, 5, 8},
	{"I", 10, 60, 20, 60, 6, 14, 20, 7, 80, 5, 8},
	{"B", 10, 60, 20, 60, 45, math.NaN(), 8, 20, 75, 10, 15},
	{"S", 8, 60, 20, 75, 5, 9, 11, 5, 85, 5, 8},
}

// python runs a script of the simulator with the system's own python3. A missing
// interpreter or module fails the test: what is not run is not checked.
func python(t *testing.T, script string, args ...string) []byte {
	t.Helper()
	path, err := exec.Command("sh", "-c", "command -v -p python3").Output()
	if err != nil {
		t.Fatal("python3 is not installed (apt-get install python3-scipy):", err)
	}
	cmd := exec.Command(strings.TrimSpace(string(path)), append([]string{"-B", filepath.Join(strokes, script)}, args...)...)
	var complaint strings.Builder
	cmd.Stderr = &complaint
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %s: %v\n%s", script, args[0], err, complaint.String())
	}
	return out
}

// readScripts reads the simulator's files, so that go test sees them change.
func readScripts(t *testing.T) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(strokes, "*.py"))
	if err != nil || len(files) < 9 {
		t.Fatal("the simulator's files are missing:", files, err)
	}
	for _, f := range files {
		if _, err := os.ReadFile(f); err != nil {
			t.Fatal(err)
		}
	}
}

// TestASecondSimulator analyses clips of the second simulator, every condition, by the
// command itself. The figures are not on testdata/checks.md: the last bits of numpy's
// functions differ among machines, and with them a swing at the edge.
func TestASecondSimulator(t *testing.T) {
	if testing.Short() {
		t.Skip("SKIPPED: half a minute of Python and analysis: run without -short")
	}
	readScripts(t)
	for _, f := range floors {
		t.Run(f.condition, func(t *testing.T) {
			t.Parallel()
			f.hold(t, f.analyse(t, 5))
		})
	}
}

// analyse makes the clips and returns the figures of their analysis.
func (f floor) analyse(t *testing.T, seed int) map[string]*float64 {
	dir := t.TempDir()
	python(t, "strokes.py", "make", dir, "--condition", f.condition, "--swings", strconv.Itoa(f.swings), "--seed", strconv.Itoa(seed))
	return f.score(t, dir)
}

// score has a folder of clips analysed by the command, and returns the figures.
func (f floor) score(t *testing.T, dir string) map[string]*float64 {
	clips, err := filepath.Glob(filepath.Join(dir, "*.ndjson"))
	if err != nil || len(clips) < 3 {
		t.Fatal("too few clips:", clips, err)
	}
	o := try(t, "", append([]string{"analyze", "--json"}, clips...)...)
	if o.status != 0 {
		t.Fatalf("analyze: %.300v", o.err)
	}
	answers := file(t, "answers", o.out)
	t.Logf("condition %s:\n%s", f.condition, python(t, "strokes.py", "score", dir, answers, "--all"))
	figures := map[string]*float64{}
	if err := json.Unmarshal(python(t, "strokes.py", "score", dir, answers, "--json"), &figures); err != nil {
		t.Fatal(err)
	}
	return figures
}

// hold checks every figure against its floor; one that is absent fails.
func (f floor) hold(t *testing.T, figures map[string]*float64) {
	least := func(name string, want float64) {
		if got := figures[name]; got == nil || *got < want {
			t.Errorf("%s: %s, want at least %g", name, told(got), want)
		}
	}
	most := func(name string, want float64) {
		if got := figures[name]; !math.IsNaN(want) && (got == nil || *got > want) {
			t.Errorf("%s: %s, want at most %g", name, told(got), want)
		}
	}
	least("strokes", float64(f.swings))
	least("found", f.found)
	most("false", f.lost)
	least("named", f.named)
	most("contact", f.contact)
	most("tip", f.tip)
	most("turn", f.turn)
	most("hands", f.hands)
	least("measures inside", f.inside)
	most("measure lies", f.measureLies)
	most("event lies", f.eventLies)
}

func told(v *float64) string {
	if v == nil {
		return "absent"
	}
	return fmt.Sprintf("%.2f", *v)
}
