package swing_test

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
)

// captured returns the frames of two cameras in the order in which they were captured,
// and those instants, seconds, on the clock of camera 0. Both began at once, to a frame.
func captured(frames []body.Frame) (in []body.Frame, at []float64) {
	var first [2]int64
	var began [2]bool
	for i := range frames {
		if c := frames[i].Camera; !began[c] {
			began[c], first[c] = true, frames[i].TimeUS
		}
	}
	us := func(f *body.Frame) int64 { return f.TimeUS - first[f.Camera] + first[0] }
	in = slices.Clone(frames)
	slices.SortStableFunc(in, func(a, b body.Frame) int { return int(us(&a) - us(&b)) })
	for i := range in {
		at = append(at, float64(us(&in[i]))*1e-6)
	}
	return in, at
}

// handing is a stream of two cameras: what was handed over and when.
type handing struct {
	twin
	told   [2]uint32 // keep_from by camera
	swings []string
}

func (h *handing) Progress(p swing.Progress) { h.told[p.Camera] = p.KeepFrom }

// hand plays frames from the first that is kept on; each is called after each.
func (h *handing) hand(t *testing.T, s swing.Setup, in []body.Frame, keep [2]uint32, each func(i int)) {
	t.Helper()
	m, err := swing.New(s)
	if err != nil {
		t.Fatal(err)
	}
	m.SettleWith(func(f []body.Frame, c swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
		var last [2]int64
		for i := range f {
			last[f[i].Camera] = f[i].TimeUS
		}
		h.swings = append(h.swings, fmt.Sprintf("%s of %d frames from %d until %v", c.ID, len(f), f[0].TimeUS, last))
		h.late = append(h.late, float64(c.EndUS)*1e-6)
		return swing.Unsettled(f, c, s)
	})
	for i := range in {
		if in[i].Index < keep[in[i].Camera] {
			continue
		}
		if err := m.Push(&in[i], h); err != nil {
			t.Fatal(err)
		}
		each(i)
	}
	m.Finish(h)
}

// TestTwoCamerasHandASwingOverAsItEnds: though nobody says how far the cameras' clocks
// are apart, and that may be 0.3 s, a swing is handed over as soon as both cameras have
// sent what happened until its end; the same where it was said.
func TestTwoCamerasHandASwingOverAsItEnds(t *testing.T) {
	const spare = 0.025 + 3.0/60 // s: beyond the end, a frame of each camera, and one that was lost
	n := 0
	for _, seed := range []uint64{3, 7, 17, 23} {
		for _, said := range []bool{false, true} {
			clip := rally(seed)
			in, at := captured(clip.Frames)
			if said {
				clip.Setup.Cameras = slices.Clone(clip.Setup.Cameras)
				for i := range in {
					if in[i].Camera == 1 {
						clip.Setup.Cameras[1].HasClockOffset = true
						clip.Setup.Cameras[1].ClockOffset = at[i] - float64(in[i].TimeUS)*1e-6
						break
					}
				}
			}
			h, heard := &handing{}, 0
			h.hand(t, clip.Setup, in, [2]uint32{}, func(i int) {
				for ; heard < len(h.late); heard++ {
					n++
					if late := at[i] - h.late[heard]; late > spare {
						t.Errorf("seed %d, said %v, swing %d: handed over %.3f s after its end", seed, said, heard, late)
					}
				}
			})
		}
	}
	if n < 20 {
		t.Errorf("only %d swings", n)
	}
}

// TestTwoCamerasResume: wherever a stream of two cameras breaks off, one that starts from
// keep_from hands over the same windows, to the frame.
func TestTwoCamerasResume(t *testing.T) {
	for _, seed := range []uint64{7, 17} {
		clip := rally(seed)
		in, at := captured(clip.Frames)
		type point struct {
			told   [2]uint32
			swings int
		}
		var points []point
		h, next := &handing{}, math.Inf(-1)
		h.hand(t, clip.Setup, in, [2]uint32{}, func(i int) {
			if at[i] >= next {
				next = at[i] + 0.3
				points = append(points, point{h.told, len(h.swings)})
			}
		})
		if len(h.swings) != 3 || len(points) < 30 {
			t.Fatalf("seed %d: %d swings, %d points", seed, len(h.swings), len(points))
		}
		for k, p := range points {
			again := &handing{}
			again.hand(t, clip.Setup, in, p.told, func(int) {})
			want := h.swings[p.swings:]
			if len(again.swings) < len(want) || !slices.Equal(again.swings[len(again.swings)-len(want):], want) {
				t.Errorf("seed %d, broken off after %.1f s: %v, want %v", seed, 0.3*float64(k), again.swings, want)
			}
		}
	}
}
