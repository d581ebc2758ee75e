package swing_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// heardAll writes down all that a machine says, in the order said.
type heardAll struct {
	lines  []string // all but progress
	sheets []*measure.Sheet
	told   [2]uint32
}

func (h *heardAll) Event(e swing.LiveEvent) { h.lines = append(h.lines, fmt.Sprintf("event %+v", e)) }
func (h *heardAll) Reading(r swing.Reading) { h.lines = append(h.lines, fmt.Sprintf("reading %+v", r)) }
func (h *heardAll) Warning(w measure.Warning) {
	h.lines = append(h.lines, fmt.Sprintf("warning %+v", w))
}
func (h *heardAll) Progress(p swing.Progress) { h.told[p.Camera] = p.KeepFrom }
func (h *heardAll) Swing(s *measure.Sheet) {
	h.sheets = append(h.sheets, s)
	h.lines = append(h.lines, "swing "+written(s))
}

// written is a sheet to the last bit.
func written(s *measure.Sheet) string {
	plain := *s
	plain.Trace = nil
	return fmt.Sprintf("%+v", plain)
}

func hearAll(t *testing.T, s swing.Setup, frames []body.Frame) *heardAll {
	t.Helper()
	m, err := swing.New(s)
	if err != nil {
		t.Fatal(err)
	}
	h := &heardAll{}
	for i := range frames {
		if err := m.Push(&frames[i], h); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(h)
	return h
}

// withClocks returns a clip's setup and frames with the clocks of both cameras put wrong by
// whole microseconds and their offsets said; nil: not said.
func withClocks(clip *synth.Clip, in []body.Frame, wrong [2]int64, said [2]*float64) (swing.Setup, []body.Frame) {
	s := clip.Setup
	s.Cameras = slices.Clone(s.Cameras)
	for i, o := range said {
		if o != nil {
			s.Cameras[i].ClockOffset, s.Cameras[i].HasClockOffset = *o, true
		}
	}
	frames := slices.Clone(in)
	for i := range frames {
		frames[i].TimeUS += wrong[frames[i].Camera]
	}
	return s, frames
}

// TestClocksThatAreToldApartByAnHour: whatever offset of a clock is said, all findings are
// those of cameras that share one clock, to the last bit, and on the clock of camera 0.
func TestClocksThatAreToldApartByAnHour(t *testing.T) {
	clip := rally(17)
	in, at := captured(clip.Frames)
	var off int64 // µs: what takes the second camera's times to the first's
	for i := range in {
		if in[i].Camera == 1 {
			off = int64(math.Round(at[i]*1e6)) - in[i].TimeUS
			break
		}
	}
	said := func(us int64) *float64 { s := float64(us) * 1e-6; return &s }
	const second, hour = 1_000_000, 3_600_000_000
	half := (clip.Truth[0].Contact + clip.Truth[1].Contact) / 2
	var late []body.Frame // the first camera falls silent half-way
	for i := range in {
		if in[i].Camera == 1 || clip.Real(float64(in[i].TimeUS)) < half {
			late = append(late, in[i])
		}
	}
	for name, frames := range map[string][]body.Frame{"both": in, "the first falls silent": late} {
		s, f := withClocks(&clip, frames, [2]int64{0, off}, [2]*float64{nil, said(0)})
		want := hearAll(t, s, f)
		if len(want.sheets) != len(clip.Truth) {
			t.Fatalf("%s: %d swings, want %d", name, len(want.sheets), len(clip.Truth))
		}
		for _, c := range []struct{ zero, one int64 }{ // what is said of each camera, µs
			{0, off}, {0, 5 * second}, {0, -5 * second}, {0, hour}, {0, -hour},
			{5 * second, 0}, {-hour, hour},
		} {
			s, f := withClocks(&clip, frames, [2]int64{0, off + c.zero - c.one}, [2]*float64{said(c.zero), said(c.one)})
			got := hearAll(t, s, f)
			if !slices.Equal(got.lines, want.lines) {
				t.Errorf("%s, told %d and %d µs: %s", name, c.zero, c.one, firstOdd(got.lines, want.lines))
			}
		}
	}
}

// firstOdd tells where two lists part.
func firstOdd(got, want []string) string {
	for i := range min(len(got), len(want)) {
		if got[i] != want[i] {
			return fmt.Sprintf("line %d is\n%.300s\nwant\n%.300s", i, got[i], want[i])
		}
	}
	return fmt.Sprintf("%d lines, want %d", len(got), len(want))
}

// A lone camera's offset changes nothing: its own clock is the one that findings are on.
func TestALoneCamerasOffsetIsItsOwnClock(t *testing.T) {
	clip := oneSwing(synth.Phone, body.Forehand, 12)
	want := hearAll(t, clip.Setup, clip.Frames)
	said := 3600.0
	s, f := clip.Setup, clip.Frames
	s.Cameras = slices.Clone(s.Cameras)
	s.Cameras[0].ClockOffset, s.Cameras[0].HasClockOffset = said, true
	got := hearAll(t, s, f)
	if len(want.sheets) != 1 || !slices.Equal(got.lines, want.lines) {
		t.Errorf("%d swings; %s", len(want.sheets), firstOdd(got.lines, want.lines))
	}
}

// Offsets beyond an hour are refused by the field's name; times that do not rise are, on
// whatever clock.
func TestOffsetsBeyondAnHourAreRefused(t *testing.T) {
	setup := func(offset float64) swing.Setup {
		return swing.Setup{Cameras: []camera.Camera{{Width: 1920, Height: 1080}, {Width: 1920, Height: 1080, ClockOffset: offset, HasClockOffset: true}}}
	}
	for _, offset := range []float64{3600.001, -3601, math.NaN(), math.Inf(1)} {
		_, err := swing.New(setup(offset))
		var wrong *swing.SetupError
		if !errors.As(err, &wrong) || wrong.Field != "cameras[1].clock_offset" {
			t.Errorf("offset %g: %v", offset, err)
		}
	}
	m, err := swing.New(setup(-3600))
	if err != nil {
		t.Fatal(err)
	}
	h := &heardAll{}
	for i, us := range []int64{5, 6, 6, 7} {
		err := m.Push(&body.Frame{Camera: 1, Index: uint32(i), TimeUS: us}, h)
		if rises := i != 2; (err == nil) != rises || !rises && !strings.Contains(err.Error(), "time_us") {
			t.Errorf("frame at %d µs: %v", us, err)
		}
	}
}
