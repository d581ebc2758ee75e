package swing_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/synth"
)

// TestFeetOutOfThePicture cuts the feet, then the legs, off a camera's picture: a
// player at the net stands near. Racket and ball are still read in metres, by what is
// left of the body, and the strokes are found.
func TestFeetOutOfThePicture(t *testing.T) {
	cut := [][]body.Point{
		{body.LeftAnkle, body.RightAnkle},
		{body.LeftAnkle, body.RightAnkle, body.LeftKnee, body.RightKnee},
	}
	for _, c := range []synth.Condition{synth.Phone, synth.ImageOnly} {
		for n, gone := range cut {
			strokes, found, made := 0, 0, 0
			for seed := range uint64(6) {
				clip := synth.Sample(c, 5, 7300+seed)
				for i := range clip.Frames {
					for _, p := range gone {
						clip.Frames[i].Image[p] = body.Seen2{}
					}
				}
				w := watchClip(t, clip.Setup, clip.Frames)
				made += len(w.swings)
				for _, tr := range clip.Truth {
					strokes++
					for _, e := range w.swings {
						if at, _ := e.Event(phase.Contact); math.Abs(clip.Real(float64(e.StartUS)+at.Time*1e6)-tr.Contact) < 0.25 {
							found++
							break
						}
					}
				}
			}
			if found < strokes-1 || made > strokes+1 {
				t.Errorf("%c, cut %d: of %d strokes %d found, %d swings in all", c, n, strokes, found, made)
			}
		}
	}
}
