package swing_test

import (
	"reflect"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// TestABodyAloneResumes breaks noisy practices of a body alone, whose bursts wait for
// rivals: what a resumed stream finds joins what was found before.
func TestABodyAloneResumes(t *testing.T) {
	swings := 0
	for seed := range uint64(8) {
		clip := synth.Sample(synth.BodyOnly, 4, 7300+seed)
		clip.Setup.Cameras[0].SlowMotion = 1
		for i := range clip.Frames {
			clip.Frames[i].Index = uint32(i)
		}
		play := func(frames []body.Frame, end bool) ([]*measure.Sheet, uint32) {
			m, err := swing.New(clip.Setup)
			if err != nil {
				t.Fatal(err)
			}
			m.SettleWith(swing.Unsettled)
			c := &carried{}
			for i := range frames {
				if err := m.Push(&frames[i], c); err != nil {
					t.Fatal(err)
				}
			}
			if end {
				m.Finish(c)
			}
			return c.swings, c.last.KeepFrom
		}
		whole, _ := play(clip.Frames, true)
		swings += len(whole)
		for cut := 60; cut < len(clip.Frames); cut += 53 {
			got, keep := play(clip.Frames[:cut], false)
			known := map[string]bool{}
			for _, s := range got {
				known[s.ID] = true
			}
			more, _ := play(clip.Frames[keep:], true)
			for _, s := range more {
				if !known[s.ID] {
					got = append(got, s)
				}
			}
			if !reflect.DeepEqual(got, whole) {
				t.Fatalf("seed %d, cut at frame %d, resumed from %d: %d swings, want %d", seed, cut, keep, len(got), len(whole))
			}
		}
	}
	if swings < 8 {
		t.Errorf("only %d swings", swings)
	}
}
