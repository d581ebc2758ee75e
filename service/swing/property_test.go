package swing

import (
	"math"
	"reflect"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
)

// practice joins recorded clips into one stream, a second of standing still
// between them, frames numbered through.
func practiceOf(t testing.TB, names ...string) []body.Frame {
	t.Helper()
	byName := map[string]*recordedClip{}
	for _, c := range recorded(t) {
		byName[c.name] = c
	}
	var out []body.Frame
	now := int64(0)
	for _, n := range names {
		c, ok := byName[n]
		if !ok {
			t.Skipf("no recording %s", n)
		}
		for i := range c.frames {
			f := c.frames[i]
			f.TimeUS += now
			f.Index = uint32(len(out))
			out = append(out, f)
		}
		now = out[len(out)-1].TimeUS + 10_000
		for range 100 {
			f := out[len(out)-1]
			f.TimeUS, f.Index = now, uint32(len(out))
			out = append(out, f)
			now += 10_000
		}
	}
	return out
}

var mixed = []string{
	"tmseq_S07_serve", "tm_S13_forehand_volley_a", "tm_S15_smash_a", "tm_S06_backhand_a", "tm_S12_smash_spike", "tmseq_S02_forehand",
}

// TestResumedStreamsFindTheSameSwings breaks a practice at many instants; a new
// machine gets the frames from keep_from on. Together they find the swings of
// the unbroken run: same identity, same window, none twice but by identity.
func TestResumedStreamsFindTheSameSwings(t *testing.T) {
	frames := practiceOf(t, mixed...)
	whole := play(t, Setup{Axes: camera.AxesLevel}, frames).swings
	if len(whole) < 20 {
		t.Fatalf("only %d swings", len(whole))
	}
	for cut := 50; cut < len(frames); cut += 61 {
		first, keep := playUntil(t, frames[:cut])
		second := play(t, Setup{Axes: camera.AxesLevel}, frames[keep:]).swings
		if got := union(t, first, second); !sameSheets(got, whole) {
			t.Fatalf("cut at frame %d, resumed from %d: %d swings, want %d\n%v\n%v", cut, keep, len(got), len(whole), contacts(t, got), contacts(t, whole))
		}
	}
}

// playUntil runs frames without an end and returns the swings and the last keep_from.
func playUntil(t *testing.T, frames []body.Frame) ([]*measure.Sheet, uint32) {
	t.Helper()
	m, err := New(Setup{Axes: camera.AxesLevel})
	if err != nil {
		t.Fatal(err)
	}
	m.settle = unsettled
	b := &book{}
	for i := range frames {
		if err := m.Push(&frames[i], b); err != nil {
			t.Fatal(err)
		}
	}
	return b.swings, b.progress[len(b.progress)-1].KeepFrom
}

// union drops from b what a already holds; the same identity must be the same swing.
func union(t *testing.T, a, b []*measure.Sheet) []*measure.Sheet {
	t.Helper()
	out := append([]*measure.Sheet(nil), a...)
	for _, s := range b {
		known := false
		for _, o := range a {
			known = known || o.ID == s.ID
		}
		if !known {
			out = append(out, s)
		}
	}
	return out
}

func sameSheets(a, b []*measure.Sheet) bool { return reflect.DeepEqual(a, b) }

func contacts(t *testing.T, s []*measure.Sheet) (at []float64) {
	for _, x := range s {
		at = append(at, contactOf(t, x))
	}
	return at
}

// TestFindingsDoNotDependOnWhereAndWhen turns, moves and mirrors a practice.
func TestFindingsDoNotDependOnWhereAndWhen(t *testing.T) {
	frames := practiceOf(t, mixed...)
	want := contacts(t, play(t, Setup{Axes: camera.AxesLevel}, frames).swings)
	turn := geom.RotationAbout(geom.Vec3{Y: 1}, 1.234)
	toCamera := geom.Rows(geom.Vec3{X: 1}, geom.Vec3{Y: -1}, geom.Vec3{Z: -1})
	for _, c := range []struct {
		name  string
		axes  camera.Axes
		later int64
		move  func(geom.Vec3) geom.Vec3
		twin  bool
	}{
		{"turned", camera.AxesLevel, 0, turn.Apply, false},
		{"moved", camera.AxesLevel, 0, func(v geom.Vec3) geom.Vec3 { return v.Add(geom.Vec3{X: 5, Z: -3}) }, false},
		{"later", camera.AxesLevel, 987_654_321_012, func(v geom.Vec3) geom.Vec3 { return v }, false},
		{"mirrored", camera.AxesLevel, 0, func(v geom.Vec3) geom.Vec3 { v.Z = -v.Z; return v }, true},
		{"camera axes", camera.AxesCamera, 0, toCamera.Apply, false},
		{"axes not named", camera.AxesUnknown, 0, toCamera.Apply, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := contacts(t, play(t, Setup{Axes: c.axes}, moved(frames, c.later, c.move, c.twin)).swings)
			if len(got) != len(want) {
				t.Fatalf("%d swings, want %d", len(got), len(want))
			}
			for i := range got {
				near(t, "contact", got[i]-float64(c.later)*1e-6, want[i], 0.0105) // a tie may fall to the next frame
			}
		})
	}
}

// moved returns the frames with every world point moved, and sides swapped for a mirror.
func moved(frames []body.Frame, later int64, move func(geom.Vec3) geom.Vec3, twin bool) []body.Frame {
	out := make([]body.Frame, len(frames))
	for i := range frames {
		f := body.Frame{Index: frames[i].Index, TimeUS: frames[i].TimeUS + later}
		for p := range body.NumPoints {
			w := frames[i].World[p]
			if w.Score == 0 {
				continue
			}
			v := move(geom.Vec3{X: float64(w.X), Y: float64(w.Y), Z: float64(w.Z)})
			to := p
			if twin {
				to = p.Twin()
			}
			f.World[to] = body.Seen3{X: float32(v.X), Y: float32(v.Y), Z: float32(v.Z), Score: w.Score}
		}
		out[i] = f
	}
	return out
}

// TestUnfitFramesAreRefused asks for the field by name, and that the machine
// goes on as if the frame had not come.
func TestUnfitFramesAreRefused(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	for _, c := range []struct {
		name, field string
		spoil       func(*body.Frame)
	}{
		{"time back", "time_us", func(f *body.Frame) { f.TimeUS = 0 }},
		{"time again", "time_us", func(f *body.Frame) { f.TimeUS = 1_000_000 }},
		{"time beyond reason", "time_us", func(f *body.Frame) { f.TimeUS = math.MaxInt64 }},
		{"camera", "camera", func(f *body.Frame) { f.Camera = 3 }},
		{"NaN world", "world", func(f *body.Frame) { f.World[body.Nose] = body.Seen3{X: nan, Score: 1} }},
		{"infinite racket", "racket_world", func(f *body.Frame) { f.World[body.RacketTip] = body.Seen3{Z: inf, Score: 1} }},
		{"NaN score", "world", func(f *body.Frame) { f.World[body.Nose] = body.Seen3{Score: nan} }},
		{"negative score", "image", func(f *body.Frame) { f.Image[body.Nose] = body.Seen2{Score: -1} }},
		{"far ball", "ball_image", func(f *body.Frame) { f.Image[body.Ball] = body.Seen2{X: 1e9, Score: 1} }},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, _ := New(Setup{})
			ok := body.Frame{TimeUS: 1_000_000}
			if err := m.Push(&ok, &quiet{}); err != nil {
				t.Fatal(err)
			}
			bad := body.Frame{Index: 1, TimeUS: 1_016_667}
			c.spoil(&bad)
			err, _ := m.Push(&bad, &quiet{}).(*FrameError)
			if err == nil || err.Field != c.field || err.Index != 1 {
				t.Fatalf("got %v, want field %s of frame 1", err, c.field)
			}
			next := body.Frame{Index: 1, TimeUS: 1_016_667}
			if err := m.Push(&next, &quiet{}); err != nil {
				t.Errorf("after the refusal: %v", err)
			}
		})
	}
}

// TestUnfitSetupsAreRefused asks for the field by name.
func TestUnfitSetupsAreRefused(t *testing.T) {
	for _, c := range []struct {
		field string
		setup Setup
	}{
		{"player.stature_m", Setup{Player: body.Player{Stature: 0.3}}},
		{"player.stature_m", Setup{Player: body.Player{Stature: math.NaN()}}},
		{"racket.length_m", Setup{RacketLength: 3}},
		{"world_axes", Setup{Axes: 9}},
		{"expected_stroke", Setup{Expected: 77}},
		{"cameras", Setup{Cameras: make([]camera.Camera, 100)}},
		{"cameras[0].slow_motion_factor", Setup{Cameras: []camera.Camera{{SlowMotion: -1}}}},
	} {
		_, err := New(c.setup)
		if e, _ := err.(*SetupError); e == nil || e.Field != c.field {
			t.Errorf("got %v, want %s", err, c.field)
		}
	}
}
