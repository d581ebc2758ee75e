package swing

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
)

// recordedFolder is where the recorded strokes lie, beside the project.
const recordedFolder = "../../../shared/data/mocap"

// recordedClip is one recorded stroke or series of real players.
type recordedClip struct {
	name   string
	frames []body.Frame
	about  struct {
		Ref struct {
			HittingPoint string  `json:"hitting_point"`
			PeakSpeed    float64 `json:"peak_speed_filtered_mps"`
			PeakTime     float64 `json:"peak_time_s"`
		} `json:"ref"`
		Stroke     string    `json:"stroke"`
		Handedness string    `json:"handedness"`
		TwoHanded  bool      `json:"two_handed"`
		Quality    string    `json:"quality"`
		Peaks      []float64 `json:"auto_peaks_s"`
	}
}

// series reports whether the clip holds many strokes.
func (c *recordedClip) series() bool { return len(c.about.Peaks) > 0 }

// stroke returns the stroke that the clip's label names.
func (c *recordedClip) stroke() body.Stroke {
	label := c.about.Stroke
	switch {
	case strings.HasPrefix(label, "forehand_volley"):
		return body.ForehandVolley
	case strings.HasPrefix(label, "backhand_volley"):
		return body.BackhandVolley
	case strings.HasPrefix(label, "forehand"):
		return body.Forehand
	case strings.HasPrefix(label, "backhand") && c.about.TwoHanded:
		return body.TwoHandedBackhand
	case strings.HasPrefix(label, "backhand"):
		return body.OneHandedBackhand
	case strings.HasPrefix(label, "serve"):
		return body.Serve
	case strings.HasPrefix(label, "smash"):
		return body.Overhead
	}
	return body.StrokeUnknown
}

func (c *recordedClip) hand() body.Hand {
	if c.about.Handedness == "left" {
		return body.LeftHanded
	}
	return body.RightHanded
}

// recordedNames maps the columns of a recording to points.
var recordedNames = func() map[string]body.Point {
	names := map[string]body.Point{
		"pelvis": body.MidHip, "chest": body.Chest, "neck": body.Neck, "head": body.Head, "head_top": body.HeadTop,
	}
	sides := []struct {
		short string
		shift body.Point
	}{{"l", 0}, {"r", 1}}
	for _, s := range sides {
		for suffix, p := range map[string]body.Point{
			"shoulder": body.LeftShoulder, "elbow": body.LeftElbow, "wrist": body.LeftWrist, "hand": body.LeftHand,
			"hip": body.LeftHip, "knee": body.LeftKnee, "ankle": body.LeftAnkle, "toe": body.LeftToe,
		} {
			names[s.short+"_"+suffix] = p + s.shift
		}
		for suffix, p := range map[string]body.Point{
			"sho": body.LeftShoulder, "elb": body.LeftElbow, "kne": body.LeftKnee, "ank": body.LeftAnkle,
			"toe": body.LeftToe, "hee": body.LeftHeel, "fin": body.LeftHand, "asi": body.LeftHip, "fhd": body.LeftEar,
		} {
			names["mk_"+s.short+suffix] = p + s.shift
		}
	}
	return names
}()

// recorded returns the recorded clips; the test is skipped where there are none.
func recorded(t testing.TB) []*recordedClip {
	t.Helper()
	files, _ := filepath.Glob(filepath.Join(recordedFolder, "*.csv"))
	if len(files) == 0 {
		t.Skipf("no recorded strokes at %s", recordedFolder)
	}
	var clips []*recordedClip
	for _, f := range files {
		clips = append(clips, readRecorded(t, f))
	}
	return clips
}

func readRecorded(t testing.TB, file string) *recordedClip {
	t.Helper()
	c := &recordedClip{name: strings.TrimSuffix(filepath.Base(file), ".csv")}
	about, err := os.ReadFile(strings.TrimSuffix(file, ".csv") + ".json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(about, &c.about); err != nil {
		t.Fatal(err)
	}
	in, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	rows, err := csv.NewReader(in).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, row := range rows[1:] {
		c.frames = append(c.frames, recordedFrame(t, i, rows[0], row))
	}
	return c
}

// recordedFrame turns a row (z up) into level axes (Y up).
func recordedFrame(t testing.TB, i int, head, row []string) body.Frame {
	num := func(k int) float64 {
		x, err := strconv.ParseFloat(row[k], 64)
		if err != nil {
			t.Fatal(err)
		}
		return x
	}
	f := body.Frame{Index: uint32(i), TimeUS: int64(num(0)*1e6 + 0.5)}
	for k := 1; k < len(row); k += 3 {
		p, ok := recordedNames[strings.TrimSuffix(head[k], "_x")]
		if !ok || row[k] == "" {
			continue
		}
		x, y, z := num(k), num(k+1), num(k+2)
		f.World[p] = body.Seen3{X: float32(x), Y: float32(z), Z: float32(-y), Score: 1}
	}
	return f
}

// book is a sink that writes everything down.
type book struct {
	events   []LiveEvent
	readings []Reading
	swings   []*measure.Sheet
	warnings []measure.Warning
	progress []Progress
	at       func() int64
	heard    []int64 // time of the newest frame when the event of the same place in events came
}

func (b *book) Event(e LiveEvent) {
	b.events = append(b.events, e)
	if b.at != nil {
		b.heard = append(b.heard, b.at())
	}
}
func (b *book) Reading(r Reading)         { b.readings = append(b.readings, r) }
func (b *book) Swing(s *measure.Sheet)    { b.swings = append(b.swings, s) }
func (b *book) Warning(w measure.Warning) { b.warnings = append(b.warnings, w) }
func (b *book) Progress(p Progress)       { b.progress = append(b.progress, p) }

// unsettled stands in for the settled depth where a test is about the live one.
func unsettled(w []body.Frame, c Candidate, s Setup) (*measure.Sheet, error) {
	return &measure.Sheet{
		ID: c.ID, StartUS: w[0].TimeUS, FirstFrame: w[0].Index, LastFrame: w[len(w)-1].Index,
		Events: []phase.Event{{Kind: phase.Contact, Time: float64(c.ContactUS-w[0].TimeUS) * 1e-6}},
	}, nil
}

// play runs frames through a machine.
func play(t testing.TB, s Setup, frames []body.Frame) *book {
	t.Helper()
	m, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	b := &book{}
	m.settle = unsettled
	if testing.Verbose() {
		m.Explain(func(line string) { t.Log(line) })
	}
	var now int64
	b.at = func() int64 { return now }
	for i := range frames {
		now = frames[i].TimeUS
		if err := m.Push(&frames[i], b); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(b)
	return b
}

// contactOf returns a sheet's contact in seconds of the frames' clock.
func contactOf(t testing.TB, s *measure.Sheet) float64 {
	t.Helper()
	for _, e := range s.Events {
		if e.Kind == phase.Contact {
			return float64(s.StartUS)*1e-6 + e.Time
		}
	}
	t.Fatal("no contact")
	return 0
}

func TestRecordedStrokesAreFoundOnce(t *testing.T) {
	for _, c := range recorded(t) {
		t.Run(c.name, func(t *testing.T) {
			b := play(t, Setup{Axes: camera.AxesLevel}, c.frames)
			if c.series() {
				t.Logf("%d swings, peaks %d", len(b.swings), len(c.about.Peaks))
				checkSeries(t, c, b)
				return
			}
			if len(b.swings) != 1 {
				for _, s := range b.swings {
					t.Logf("swing at %.2f", contactOf(t, s))
				}
				t.Fatalf("%d swings, want 1 (peak at %.2f s)", len(b.swings), c.about.Ref.PeakTime)
			}
			tol := 0.15
			if s := c.stroke(); s.OverheadMotion() {
				tol = 0.20
			}
			near(t, "contact", contactOf(t, b.swings[0]), c.about.Ref.PeakTime, tol)
		})
	}
}

// checkSeries asks that swings and the recording's peaks of wrist speed pair
// off: every peak that the recording names, and every swing a peak over 4 m/s
// (the names leave out a serve at 25 s that is as fast as the others).
func checkSeries(t *testing.T, c *recordedClip, b *book) {
	t.Helper()
	var got []float64
	for _, s := range b.swings {
		got = append(got, contactOf(t, s))
	}
	peaks := wristPeaks(c.frames, 4)
	if len(got) != len(peaks) {
		t.Fatalf("swings at %.2f, peaks at %.2f, named %.2f", got, peaks, c.about.Peaks)
	}
	for i := range peaks {
		near(t, "contact", got[i], peaks[i], 0.15)
	}
	for _, want := range c.about.Peaks {
		k := slices.IndexFunc(got, func(x float64) bool { return math.Abs(x-want) < 0.15 })
		if k < 0 {
			t.Errorf("no swing at the named peak %.2f", want)
		}
	}
}

// wristPeaks returns the instants, a second apart at least, at which the right
// wrist is fastest and over least m/s; speeds over 0.1 s, free of the code under test.
func wristPeaks(frames []body.Frame, least float64) []float64 {
	const half = 5 // frames at 100 Hz
	speed := func(i int) float64 {
		a, b := frames[i-half].World[body.RightWrist], frames[i+half].World[body.RightWrist]
		d := geom.Vec3{X: float64(b.X - a.X), Y: float64(b.Y - a.Y), Z: float64(b.Z - a.Z)}
		return d.Norm() / (float64(frames[i+half].TimeUS-frames[i-half].TimeUS) * 1e-6)
	}
	var at, top []float64
	for i := half; i < len(frames)-half; i++ {
		t, v := float64(frames[i].TimeUS)*1e-6, speed(i)
		switch n := len(at); {
		case v < least:
		case n == 0 || t-at[n-1] > 1:
			at, top = append(at, t), append(top, v)
		case v > top[n-1]:
			at[n-1], top[n-1] = t, v
		}
	}
	return at
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(got >= want-tol && got <= want+tol) {
		t.Errorf("%s: got %.4g, want %.4g ± %.3g", what, got, want, tol)
	}
}

// quiet is a sink that keeps nothing.
type quiet struct{}

func (*quiet) Event(LiveEvent)         {}
func (*quiet) Reading(Reading)         {}
func (*quiet) Swing(*measure.Sheet)    {}
func (*quiet) Warning(measure.Warning) {}
func (*quiet) Progress(Progress)       {}
