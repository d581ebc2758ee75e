package swing_test

import (
	"fmt"
	"reflect"
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// carried is what a client has of a stream that broke: the swings, and what the
// last acknowledgement said.
type carried struct {
	watch
	last swing.Progress
}

func (c *carried) Progress(p swing.Progress) { c.last = p }

// goneOn returns the swings of a client that had this much when its stream broke, after
// another machine has gone on from keep_from, told the clock as far as it was known.
func (c *carried) goneOn(t *testing.T, s swing.Setup, frames []body.Frame) []*measure.Sheet {
	t.Helper()
	s.Clock = c.last.Clock
	rest := newHearing(t, s, 0)
	for i := int(c.last.KeepFrom); i < len(frames); i++ {
		rest.push(t, &frames[i])
	}
	rest.m.Finish(&rest.carried)
	out := slices.Clone(c.swings)
	for _, s := range rest.swings {
		if !slices.ContainsFunc(out, func(o *measure.Sheet) bool { return o.ID == s.ID }) {
			out = append(out, s)
		}
	}
	return out
}

// clockedSheet stands in for the settled depth: it tells the window and its clock.
func clockedSheet(w []body.Frame, c swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
	sheet, err := swing.Unsettled(w, c, s)
	sheet.Capture = measure.Capture{SlowMotion: c.Slow, SlowMotionSD: c.SlowSD}
	if c.DoubtSlow {
		sheet.Warnings = append(sheet.Warnings, measure.Warning{Code: "doubt"})
	}
	return sheet, err
}

// TestASlowClipResumesAtEverySecond breaks clips whose factor nobody stated at
// every second; another machine goes on from keep_from, told the clock if it was
// settled. Together they find the swings of the unbroken run: same identity,
// window, factor and doubt. Where swings are settled aside, some are out when the
// stream breaks: keep_from reaches back to them, and goes with what was known of
// the clock then.
func TestASlowClipResumesAtEverySecond(t *testing.T) {
	for name, late := range map[string]int{"settled at once": 0, "settled aside": 500} {
		settled, cuts, paired := 0, 0, 0
		for _, seed := range []uint64{2, 5, 6}[2*min(late, 1):] {
			clip := synth.Sample(synth.SlowMotion, 3, 900+seed)
			frames := clip.Frames
			for i := range frames {
				frames[i].Index = uint32(i)
			}
			whole := newHearing(t, clip.Setup, late)
			var broken []carried
			for i := range frames {
				if s := (frames[i].TimeUS - frames[0].TimeUS) / 1_000_000; i > 0 && s != (frames[i-1].TimeUS-frames[0].TimeUS)/1_000_000 {
					broken = append(broken, whole.carried)
					if whole.last.Clock != whole.m.SettledClock() && whole.m.Unsettled() > 0 {
						paired++
					}
				}
				whole.push(t, &frames[i])
			}
			whole.m.Finish(&whole.carried)
			if len(whole.swings) == 0 {
				t.Fatalf("%s, seed %d: no swing", name, seed)
			}
			cuts += len(broken)
			for second, first := range broken {
				if first.last.Clock.Factor > 0 {
					settled++
				}
				got := first.goneOn(t, clip.Setup, frames)
				if !reflect.DeepEqual(got, whole.swings) {
					t.Fatalf("%s, seed %d, cut at %d s, resumed from %.1f s with %+v:\ngot  %s\nwant %s", name, seed, second+1,
						float64(frames[first.last.KeepFrom].TimeUS-frames[0].TimeUS)*1e-6, first.last.Clock, briefly(got), briefly(whole.swings))
				}
			}
		}
		if settled == 0 || settled == cuts {
			t.Errorf("%s: the clock was settled at %d of %d cuts", name, settled, cuts)
		}
		if (paired > 0) != (late > 0) {
			t.Errorf("%s: at %d cuts a swing was out that was found with less known of the clock", name, paired)
		}
	}
}

// hearing is a machine and what it was heard to say. Its swings are settled within
// Push, or aside and taken back `late` frames after they were handed out.
type hearing struct {
	carried
	m    *swing.Machine
	late int
	due  []int // frames until the oldest swing that is out is taken back, and so on
}

func newHearing(t *testing.T, s swing.Setup, late int) *hearing {
	t.Helper()
	m, err := swing.New(s)
	if err != nil {
		t.Fatal(err)
	}
	m.SettleWith(clockedSheet)
	h := &hearing{m: m, late: late}
	if late > 0 {
		m.SettleBy(h)
	}
	return h
}

// Settle does a job at once and leaves it out.
func (h *hearing) Settle(j swing.Job) {
	j.Do()
	h.due = append(h.due, h.late)
}

// Wait has nothing to wait for.
func (*hearing) Wait(swing.Job) bool { return true }

func (h *hearing) push(t *testing.T, f *body.Frame) {
	t.Helper()
	if err := h.m.Push(f, &h.carried); err != nil {
		t.Fatal(err)
	}
	for i := range h.due {
		h.due[i]--
	}
	for len(h.due) > 0 && h.due[0] <= 0 {
		h.due = h.due[1:]
		h.m.TakeBack(&h.carried)
	}
}

func briefly(s []*measure.Sheet) (out string) {
	for _, x := range s {
		out += "\n   " + x.ID + " " + measureString(x)
	}
	return out
}

func measureString(x *measure.Sheet) string {
	return fmt.Sprintf("from %.3f s, frames %d–%d, slowed %.3f ± %.3f, %v", float64(x.StartUS)*1e-6, x.FirstFrame, x.LastFrame, x.Capture.SlowMotion, x.Capture.SlowMotionSD, x.Warnings)
}
