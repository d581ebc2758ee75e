package checks

import (
	"math"
	"slices"
	"testing"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// TestTempoOfRecordedPlayers: of recorded players in true time, seen again by a phone from
// all four sides, the hands' tempo says a factor of one, within what it says of its error.
func TestTempoOfRecordedPlayers(t *testing.T) {
	p := conditions[slices.IndexFunc(conditions, func(c condition) bool { return c.name == "P" })]
	var off, speeds []float64
	for i, r := range singles(t) {
		if !r.clean() {
			continue
		}
		for k := range 4 {
			shot := r.staged(geom.Vec3{X: 1}).seenAgain(p, uint64(100*k+i))
			cam, frames := shot.setup.Cameras[0], shot.frames
			at, err := camera.Locate(cam, frames, camera.Upright(frames), cam.View)
			if err != nil {
				t.Fatal(err)
			}
			speed := at.HandSpeed(frames)
			if tempo := camera.TempoOf(speed); tempo.SD > 0 {
				speeds = append(speeds, speed)
				off = append(off, tempo.LogFactor/tempo.SD)
			}
		}
	}
	slices.Sort(off)
	slices.Sort(speeds)
	inside := 0
	for _, z := range off {
		if math.Abs(z) < 2 {
			inside++
		}
	}
	middle := off[len(off)/2]
	t.Logf("%d readings of 5 to 95 %%: %.1f to %.1f m/s: the middle one %.2f sd from true time, %d within 2", len(off), speeds[len(off)/20], speeds[len(off)*19/20], middle, inside)
	if len(off) < 40 || math.Abs(middle) > 0.5 || inside*10 < len(off)*9 {
		t.Errorf("of %d readings the middle one is %.2f sd from true time, %d lie within 2", len(off), middle, inside)
	}
}
