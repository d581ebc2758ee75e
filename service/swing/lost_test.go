package swing_test

import (
	"fmt"
	"strings"
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

// TestSwingsThatCouldNotBeHeldAreTold: of a slowed clip in which nothing falls, nothing
// tells the factor before its end, and the windows of its first swings are not held so
// long. Whoever says the factor loses none and is told nothing.
func TestSwingsThatCouldNotBeHeldAreTold(t *testing.T) {
	clip := synth.Sample(synth.SlowMotion, 12, 7*1_000_003+1)
	for _, said := range []bool{false, true} {
		s := clip.Setup
		s.Cameras = append(s.Cameras[:0:0], s.Cameras...)
		s.Cameras[0].SlowMotion, s.Cameras[0].CaptureRate = 0, 0
		if said {
			s.Cameras[0].SlowMotion = clip.Stretch
		}
		m, err := swing.New(s)
		if err != nil {
			t.Fatal(err)
		}
		m.SettleWith(swing.Unsettled)
		c := &counted{}
		for i := range clip.Frames {
			f := clip.Frames[i]
			f.World[body.Ball], f.Image[body.Ball] = body.Seen3{}, body.Seen2{}
			if err := m.Push(&f, c); err != nil {
				t.Fatal(err)
			}
		}
		m.Finish(c)
		missing := len(clip.Truth) - c.swings
		switch {
		case said && (missing != 0 || len(c.lost) != 0):
			t.Errorf("told the factor: %d swings of %d, %v", c.swings, len(clip.Truth), c.lost)
		case !said && (missing < 1 || len(c.lost) != 1 || !strings.HasPrefix(c.lost[0], fmt.Sprint(missing, " "))):
			t.Errorf("not told: %d swings of %d, %v", c.swings, len(clip.Truth), c.lost)
		}
	}
}
