package camera

import (
	"math"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestViewOf: whichever way the net lies, a camera that looks along it stands behind the
// player, one that looks back at him in front; one that looks to his left stands at his
// right. Z is to the right of a player who faces X.
func TestViewOf(t *testing.T) {
	for turn := 0.0; turn < 360; turn += 15 {
		s, c := math.Sincos(turn * math.Pi / 180)
		net, right := geom.Vec3{X: c, Z: s}, geom.Vec3{X: -s, Z: c}
		for view, forward := range map[Viewpoint]geom.Vec3{
			ViewBehind: net, ViewFront: net.Scale(-1), ViewRight: right.Scale(-1), ViewLeft: right,
		} {
			for _, off := range []float64{-30, 0, 30} {
				so, co := math.Sincos(off * math.Pi / 180)
				f := forward.Scale(co).Add(geom.Vec3{Y: 1}.Cross(forward).Scale(so)).Add(geom.Vec3{Y: -.3})
				if got := ViewOf(f, net.Add(geom.Vec3{Y: .2})); got != view {
					t.Errorf("net at %v°, %v° off: view %v, want %v", turn, off, got, view)
				}
			}
		}
	}
	if ViewOf(geom.Vec3{Y: -1}, geom.Vec3{X: 1}) != ViewUnknown {
		t.Error("a camera that looks down has a viewpoint")
	}
}
