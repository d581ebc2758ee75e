package swing_test

import (
	"fmt"
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/phase"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// TestFramesWithoutNoise pushes what a perfect estimator would give of one camera's image:
// no point is lost and none errs. Live and settled, the contact is where it was.
func TestFramesWithoutNoise(t *testing.T) {
	for _, c := range []struct {
		stroke body.Stroke
		from   camera.Viewpoint
		seed   uint64
	}{
		{body.Forehand, camera.ViewRight, 3},
		{body.Forehand, camera.ViewRight, 7},
		{body.TwoHandedBackhand, camera.ViewBehind, 9},
		{body.Serve, camera.ViewFront, 4},
	} {
		t.Run(fmt.Sprint(c.stroke, c.from, c.seed), func(t *testing.T) {
			m := synth.NewSwing(synth.Spec{Stroke: c.stroke, Seed: c.seed})
			clip := synth.Shoot(m, synth.ImageOnly, synth.View{From: c.from, Clean: true}, c.seed)
			machine, err := swing.New(clip.Setup)
			if err != nil {
				t.Fatal(err)
			}
			var told settled
			for i := range clip.Frames {
				if err := machine.Push(&clip.Frames[i], &told); err != nil {
					t.Fatal(err)
				}
			}
			machine.Finish(&told)
			if len(told.swings) != 1 {
				t.Fatalf("%d swings found, want 1", len(told.swings))
			}
			sheet := told.swings[0]
			e, ok := sheet.Event(phase.Contact)
			if at := clip.Real(float64(sheet.StartUS) + e.Time*1e6); !ok || math.Abs(at-clip.Truth[0].Contact) > 0.01 {
				t.Errorf("contact at %.3f s, want %.3f ± 0.01", at, clip.Truth[0].Contact)
			}
		})
	}
}
