package swing_test

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// rally is three forehands before two cameras.
func rally(seed uint64) synth.Clip {
	return synth.Shoot(synth.NewPractice(synth.Practice{
		Spec: synth.Spec{Seed: seed}, Strokes: []body.Stroke{body.Forehand, body.Forehand, body.Forehand},
	}), synth.TwoViews, synth.View{}, seed)
}

// twin is a stream of two cameras as it was heard.
type twin struct {
	clip     synth.Clip
	now      [2]float64 // real seconds: newest frame of each camera
	swings   []*measure.Sheet
	late     []float64 // s: how far the newest frame of all was beyond the window when it was settled
	views    []map[uint8]int
	warnings []measure.Warning
	warned   []float64
}

func (w *twin) Event(swing.LiveEvent)   {}
func (w *twin) Reading(swing.Reading)   {}
func (w *twin) Progress(swing.Progress) {}
func (w *twin) Swing(s *measure.Sheet)  { w.swings = append(w.swings, s) }
func (w *twin) Warning(x measure.Warning) {
	w.warnings, w.warned = append(w.warnings, x), append(w.warned, max(w.now[0], w.now[1]))
}

// hearTwin plays frames; real asks for the true settled depth.
func hearTwin(t *testing.T, clip synth.Clip, frames []body.Frame, real bool) *twin {
	t.Helper()
	m, err := swing.New(clip.Setup)
	if err != nil {
		t.Fatal(err)
	}
	w := &twin{clip: clip, now: [2]float64{math.Inf(-1), math.Inf(-1)}}
	if !real {
		m.SettleWith(func(f []body.Frame, c swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
			seen := map[uint8]int{}
			for i := range f {
				seen[f[i].Camera]++
			}
			w.views = append(w.views, seen)
			w.late = append(w.late, max(w.now[0], w.now[1])-clip.Real(float64(c.EndUS)))
			sheet, err := swing.Unsettled(f, c, s)
			sheet.FirstFrame, sheet.LastFrame = 0, 0
			return sheet, err
		})
	}
	for i := range frames {
		w.now[frames[i].Camera] = clip.Real(float64(frames[i].TimeUS))
		if err := m.Push(&frames[i], w); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(w)
	return w
}

// check asks for each true swing once, and for one warning of each camera named.
func (w *twin) check(t *testing.T, silent string) {
	t.Helper()
	if len(w.swings) != len(w.clip.Truth) {
		t.Fatalf("%d swings, want %d", len(w.swings), len(w.clip.Truth))
	}
	for i, s := range w.swings {
		e, _ := s.Event(phase.Contact)
		if off := w.clip.Real(float64(s.StartUS)+e.Time*1e6) - w.clip.Truth[i].Contact; math.Abs(off) > 0.45 { // clocks up to 0.2 s apart
			t.Errorf("swing %d is %.2f s off", i, off)
		}
	}
	n := 0
	for _, x := range w.warnings {
		if x.Code == "camera_silent" && silent != "" && strings.Contains(x.Text, silent) {
			n++
		} else {
			t.Errorf("warning %v", x)
		}
	}
	if want := min(len(silent), 1); n != want {
		t.Errorf("%d warnings of %q, want %d", n, silent, want)
	}
}

const waits = 6.0 // s: what is waited for the frames of a camera

// without returns the frames but those of a camera from a time on.
func without(clip synth.Clip, camera uint8, from float64) (out []body.Frame) {
	for _, f := range clip.Frames {
		if f.Camera != camera || clip.Real(float64(f.TimeUS)) < from {
			out = append(out, f)
		}
	}
	return out
}

func TestACameraFallsSilent(t *testing.T) {
	clip := rally(11)
	if len(clip.Truth) != 3 {
		t.Fatal("want three swings")
	}
	middle := (clip.Truth[0].Contact + clip.Truth[1].Contact) / 2
	for _, c := range []struct {
		name   string
		camera uint8
		from   float64
		silent string
		views  []int // cameras in each window
	}{
		{"the second half-way", 1, middle, "Camera 1", []int{2, 1, 1}},
		{"the first half-way", 0, middle, "Camera 0", []int{2, 1, 1}},
		{"the second in mid-swing", 1, clip.Truth[1].Contact - 0.1, "Camera 1", []int{2, 2, 1}},
		{"the first before the last swing", 0, clip.Truth[2].Contact - 1.5, "Camera 0", []int{2, 2, 2}},
		{"the second from the start", 1, math.Inf(-1), "Camera 1", []int{1, 1, 1}},
		{"the first from the start", 0, math.Inf(-1), "Camera 0", []int{1, 1, 1}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := hearTwin(t, clip, without(clip, c.camera, c.from), false)
			w.check(t, c.silent)
			for i, v := range w.views {
				if i < len(c.views) && len(v) != c.views[i] {
					t.Errorf("swing %d seen by %d cameras, want %d", i, len(v), c.views[i])
				}
			}
			for i, late := range w.late {
				if late > waits+1 {
					t.Errorf("swing %d waited %.1f s", i, late)
				}
			}
		})
	}
}

// What one camera alone shows is still measured, from one view.
func TestASwingIsSolvedFromTheCameraThatIsLeft(t *testing.T) {
	clip := oneSwing(synth.TwoViews, body.Forehand, 12)
	for _, camera := range []uint8{0, 1} {
		w := hearTwin(t, clip, without(clip, camera, math.Inf(-1)), true)
		if len(w.swings) != 1 || w.swings[0].Capture.Method == "two_view" {
			t.Errorf("without camera %d: %d swings, %+v", camera, len(w.swings), w.warnings)
			continue
		}
		if f, ok := w.swings[0].Figure("racket_speed.tip.contact"); !ok || f.Grade == measure.NotMeasurable {
			t.Errorf("without camera %d: racket speed %+v", camera, f)
		}
	}
}

// Frames may come camera by camera, some seconds of the one and then of the other:
// the same windows are settled as when they come by time.
func TestFramesComeCameraByCamera(t *testing.T) {
	clip := rally(13)
	want := hearTwin(t, clip, clip.Frames, false)
	want.check(t, "")
	for _, block := range []float64{0.5, 2, 4} {
		for _, first := range []uint8{0, 1} {
			frames := slices.Clone(clip.Frames)
			slices.SortStableFunc(frames, func(a, b body.Frame) int {
				at := func(f *body.Frame) int { return int(clip.Real(float64(f.TimeUS)) / block) }
				return cmp.Or(cmp.Compare(at(&a), at(&b)), cmp.Compare(a.Camera^first, b.Camera^first), cmp.Compare(a.TimeUS, b.TimeUS))
			})
			got := hearTwin(t, clip, frames, false)
			got.check(t, "")
			for i := range got.swings {
				if got.swings[i].ID != want.swings[i].ID || got.swings[i].StartUS != want.swings[i].StartUS {
					t.Errorf("%g s at a time, camera %d first: swing %d is %s from %d, want %s from %d", block, first, i,
						got.swings[i].ID, got.swings[i].StartUS, want.swings[i].ID, want.swings[i].StartUS)
				}
				for camera, n := range want.views[i] {
					if got.views[i][camera] != n {
						t.Errorf("%g s at a time, camera %d first: swing %d has %d frames of camera %d, want %d", block, first, i, got.views[i][camera], camera, n)
					}
				}
			}
		}
	}
}

// Between two balls all cameras may stop for as long as they like: none of them is silent
// then, and the one whose frames are the first again does not lead for that.
func TestAPauseOfAllCamerasIsNoSilence(t *testing.T) {
	clip := rally(11)
	for _, first := range []uint8{0, 1} {
		frames := slices.Clone(clip.Frames)
		pause := (clip.Truth[0].Contact + clip.Truth[1].Contact) / 2
		kept := frames[:0]
		for _, f := range frames {
			at := clip.Real(float64(f.TimeUS))
			if at > pause {
				f.TimeUS += 20_000_000
			}
			if f.Camera == first || at < pause-0.2 || at > pause+0.2 {
				kept = append(kept, f)
			}
		}
		w := hearTwin(t, clip, kept, false)
		if len(w.warnings) > 0 {
			t.Errorf("camera %d first: warnings %v", first, w.warnings)
		}
		if len(w.views) != 3 || len(w.views[0]) != 2 || len(w.views[1]) != 2 || len(w.views[2]) != 2 {
			t.Errorf("camera %d first: windows %v", first, w.views)
		}
	}
}

// A camera that falls silent and comes back is taken in again.
func TestASilentCameraComesBack(t *testing.T) {
	clip := rally(14)
	var frames []body.Frame
	away, back := clip.Truth[0].Contact+2, clip.Truth[2].Contact-2.5
	for _, f := range clip.Frames {
		if at := clip.Real(float64(f.TimeUS)); f.Camera == 0 || at < away || at > back {
			frames = append(frames, f)
		}
	}
	w := hearTwin(t, clip, frames, false)
	if len(w.views) != 3 || len(w.views[0]) != 2 || len(w.views[1]) != 1 || len(w.views[2]) != 2 {
		t.Errorf("windows %v", w.views)
	}
}

// TestOtherCamerasSeeTheBallHit cuts out of long practices what the first camera alone gets
// wrong: it takes a take-back for the stroke, or sees no burst that passes for one. The other
// saw the ball plainly hit. Every stroke is found once, and nothing else.
func TestOtherCamerasSeeTheBallHit(t *testing.T) {
	if testing.Short() {
		t.Skip("two long practices")
	}
	for _, c := range []struct {
		session  uint64
		from, to float64 // s
	}{{0, 44, 53}, {2, 108, 118}, {2, 190, 199}} {
		clip, _ := synth.Session(synth.TwoViews, 25, 83*1_000_003+c.session)
		var frames []body.Frame
		for _, f := range clip.Frames {
			if at := clip.Real(float64(f.TimeUS)); at > c.from && at < c.to {
				frames = append(frames, f)
			}
		}
		w := watchClip(t, clip.Setup, frames)
		n := 0
		for _, tr := range clip.Truth {
			if tr.Contact < c.from+2 || tr.Contact > c.to-2 {
				continue
			}
			n++
			near := 0
			for _, s := range w.swings {
				e, _ := s.Event(phase.Contact)
				if math.Abs(clip.Real(float64(s.StartUS)+e.Time*1e6)-tr.Contact) < 0.3 {
					near++
				}
			}
			if near != 1 {
				t.Errorf("session %d: %d swings for the stroke at %.2f s", c.session, near, tr.Contact)
			}
		}
		if n == 0 || len(w.swings) != n {
			t.Errorf("session %d from %g to %g s: %d swings, want %d", c.session, c.from, c.to, len(w.swings), n)
		}
	}
}

// TestTracesStayAtThePlayer: windows of two cameras reach beyond what both see, by what
// their clocks may differ. Nothing there tells how far away a point is; the trace ends
// with what both saw, and the body is never strung out over more than arms and racket
// reach.
func TestTracesStayAtThePlayer(t *testing.T) {
	for seed := range uint64(3) {
		clip := rally(40 + seed)
		clip.Setup.Trace = true
		w := hearTwin(t, clip, clip.Frames, true)
		if len(w.swings) == 0 {
			t.Fatal("no swing")
		}
		for i, s := range w.swings {
			low, high := reach(s.Trace, "left_hip")
			for _, p := range []string{"tip", "nose", "left_wrist", "right_wrist", "left_ankle", "right_ankle"} {
				if a, b := reach(s.Trace, p); a < low-2.5 || b > high+2.5 {
					t.Errorf("seed %d, swing %d: %s from %.1f to %.1f m, the hip from %.1f to %.1f m", seed, i, p, a, b, low, high)
				}
			}
		}
	}
}

// reach returns the least and the largest coordinate of a point of a trace.
func reach(tr *measure.Trace, point string) (low, high float64) {
	low, high = math.Inf(1), math.Inf(-1)
	for _, s := range tr.Series {
		if strings.HasPrefix(s.Name, point+".") {
			for _, v := range s.Values {
				low, high = min(low, float64(v)), max(high, float64(v))
			}
		}
	}
	return low, high
}
