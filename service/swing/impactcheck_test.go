package swing_test

import (
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// settled is a sink that keeps settled swings alone.
type settled struct {
	watch
	swings []*measure.Sheet
}

func (s *settled) Swing(sheet *measure.Sheet) { s.swings = append(s.swings, sheet) }

// contradicts reports whether the one swing of a clip bears the warning.
func contradicts(t *testing.T, clip synth.Clip) bool {
	t.Helper()
	m, err := swing.New(clip.Setup)
	if err != nil {
		t.Fatal(err)
	}
	var to settled
	for i := range clip.Frames {
		if err := m.Push(&clip.Frames[i], &to); err != nil {
			t.Fatal(err)
		}
	}
	m.Finish(&to)
	if len(to.swings) != 1 {
		t.Fatalf("%d swings, want 1", len(to.swings))
	}
	return slices.ContainsFunc(to.swings[0].Warnings, func(w measure.Warning) bool { return w.Code == swing.WarnImpact })
}

// flyAway makes the ball leave faster than the racket sends it: from contact on, its
// way is so many times as long.
func flyAway(clip *synth.Clip, times float32) {
	at, from := clip.Truth[0].Contact, body.Seen3{}
	for i := range clip.Frames {
		f := &clip.Frames[i]
		b := &f.World[body.Ball]
		switch {
		case b.Score == 0:
		case clip.Real(float64(f.TimeUS)) < at:
			from = *b
		default:
			b.X, b.Y, b.Z = from.X+times*(b.X-from.X), from.Y+times*(b.Y-from.Y), from.Z+times*(b.Z-from.Z)
		}
	}
}

// A ball that a racket so slow cannot have sent is noticed; those of honest strokes
// are left alone.
func TestBallAndRacketCheckEachOther(t *testing.T) {
	for seed := range uint64(3) {
		for _, k := range []body.Stroke{body.Forehand, body.TwoHandedBackhand} {
			if contradicts(t, oneSwing(synth.World, k, 40+seed)) {
				t.Errorf("%v, seed %d: an honest stroke is doubted", k, seed)
			}
			clip := oneSwing(synth.World, k, 40+seed)
			flyAway(&clip, 2)
			if !contradicts(t, clip) {
				t.Errorf("%v, seed %d: a ball of twice its speed is not noticed", k, seed)
			}
		}
	}
}
