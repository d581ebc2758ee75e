package swing_test

import (
	"reflect"
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// counted counts swings, and keeps what is said of those that were lost.
type counted struct {
	watch
	swings int
	lost   []string
}

func (c *counted) Swing(*measure.Sheet) { c.swings++ }
func (c *counted) Warning(w measure.Warning) {
	if w.Code == swing.WarnSwingsLost {
		c.lost = append(c.lost, w.Text)
	}
}

// noFall is a long slowed clip in which nothing falls and of which nobody says the factor.
func noFall() synth.Clip {
	clip := synth.Sample(synth.SlowMotion, 12, 7*1_000_003+1)
	clip.Setup.Cameras = slices.Clone(clip.Setup.Cameras)
	clip.Setup.Cameras[0].SlowMotion, clip.Setup.Cameras[0].CaptureRate = 0, 0
	for i := range clip.Frames {
		f := &clip.Frames[i]
		f.Index = uint32(i)
		f.World[body.Ball], f.Image[body.Ball] = body.Seen3{}, body.Seen2{}
	}
	return clip
}

// TestNoSwingIsLostWhereNothingFalls: of a slowed clip in which nothing falls, nothing tells
// the factor before its end, and that is more than holdFor away. Before the first swing
// would be lost the factor is settled in doubt: every swing comes, and says so. Whoever says
// the factor has no doubt.
func TestNoSwingIsLostWhereNothingFalls(t *testing.T) {
	clip := noFall()
	for _, said := range []bool{false, true} {
		s := clip.Setup
		s.Cameras = slices.Clone(s.Cameras)
		if said {
			s.Cameras[0].SlowMotion = clip.Stretch
		}
		m, err := swing.New(s)
		if err != nil {
			t.Fatal(err)
		}
		doubt := 0
		m.SettleWith(func(w []body.Frame, g swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
			if g.DoubtSlow {
				doubt++
			}
			return swing.Unsettled(w, g, s)
		})
		c := &counted{}
		early := 0 // swings before the last frame
		for i := range clip.Frames {
			if err := m.Push(&clip.Frames[i], c); err != nil {
				t.Fatal(err)
			}
			early = c.swings
		}
		m.Finish(c)
		if c.swings != len(clip.Truth) || len(c.lost) != 0 || early == 0 {
			t.Errorf("said %v: %d swings of %d, %d of them before the end, %v", said, c.swings, len(clip.Truth), early, c.lost)
		}
		if want := map[bool]int{false: len(clip.Truth)}[said]; doubt != want {
			t.Errorf("said %v: %d swings in doubt, want %d", said, doubt, want)
		}
	}
}

// TestADoubtfulClockResumes: a stream that breaks off before or after the factor was settled in
// doubt is gone on with as if it had not.
func TestADoubtfulClockResumes(t *testing.T) {
	if testing.Short() {
		t.Skip("five minutes of frames, six times")
	}
	clip := noFall()
	cuts := []int64{60, 170, 185, 200, 260} // s of the clip
	whole := newHearing(t, clip.Setup, 0)
	var broken []carried
	for i := range clip.Frames {
		f := &clip.Frames[i]
		if n := len(broken); n < len(cuts) && f.TimeUS-clip.Frames[0].TimeUS >= cuts[n]*1_000_000 {
			broken = append(broken, whole.carried)
		}
		whole.push(t, f)
	}
	whole.m.Finish(&whole.carried)
	settled := 0
	for k, first := range broken {
		if first.last.Clock.Factor > 0 {
			settled++
		}
		got := first.goneOn(t, clip.Setup, clip.Frames)
		if !reflect.DeepEqual(got, whole.swings) {
			t.Errorf("cut at %d s, resumed from frame %d with %+v:\ngot  %s\nwant %s", cuts[k], first.last.KeepFrom, first.last.Clock, briefly(got), briefly(whole.swings))
		}
	}
	if settled == 0 || settled == len(cuts) {
		t.Errorf("the clock was settled at %d of %d cuts", settled, len(cuts))
	}
}
