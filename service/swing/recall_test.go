package swing_test

import (
	"reflect"
	"strings"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// TestWhatIsRememberedResumes breaks practices with half swings between balls, which are
// refused for what is remembered of the last swing: what a resumed stream finds joins what
// was found before.
func TestWhatIsRememberedResumes(t *testing.T) {
	swings, refused := 0, 0
	for seed, c := range map[uint64]synth.Condition{
		59_000_197: synth.World, 61_000_195: synth.World, 47_000_159: synth.TwoViews, // with half swings
	} {
		clip := synth.Sample(c, 6, seed)
		at := map[uint8]uint32{}
		for i := range clip.Frames {
			f := &clip.Frames[i]
			f.Index = at[f.Camera]
			at[f.Camera]++
		}
		play := func(frames []body.Frame, end bool) ([]*measure.Sheet, [8]uint32, int) {
			m, err := swing.New(clip.Setup)
			if err != nil {
				t.Fatal(err)
			}
			m.SettleWith(swing.Unsettled)
			n := 0
			m.Explain(func(line string) {
				if strings.Contains(line, "and the last swing had a ball") {
					n++
				}
			})
			k := &keeps{}
			for i := range frames {
				if err := m.Push(&frames[i], k); err != nil {
					t.Fatal(err)
				}
			}
			if end {
				m.Finish(k)
			}
			return k.swings, k.from, n
		}
		whole, _, n := play(clip.Frames, true)
		swings, refused = swings+len(whole), refused+n
		for cut := 300; cut < len(clip.Frames); cut += len(clip.Frames) / 30 {
			got, keep, _ := play(clip.Frames[:cut], false)
			known := map[string]bool{}
			for _, s := range got {
				known[s.ID] = true
			}
			var rest []body.Frame
			for _, f := range clip.Frames {
				if f.Index >= keep[f.Camera] {
					rest = append(rest, f)
				}
			}
			more, _, _ := play(rest, true)
			for _, s := range more {
				if !known[s.ID] {
					got = append(got, s)
				}
			}
			if !reflect.DeepEqual(got, whole) {
				t.Fatalf("%c seed %d, cut at frame %d, resumed from %v: %d swings, want %d", c, seed, cut, keep[:2], len(got), len(whole))
			}
		}
	}
	if swings < 12 || refused < 2 {
		t.Errorf("only %d swings, %d refused for what was remembered", swings, refused)
	}
}

// keeps is a sink that remembers the swings, and from which frame of each camera on a
// stream may resume.
type keeps struct {
	watch
	from [8]uint32
}

func (k *keeps) Progress(p swing.Progress) { k.from[p.Camera] = p.KeepFrom }
