package track

import (
	"fmt"
	"math"
	"testing"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// TestTwoCamerasDirections holds the directions of two cameras to what they are for: neither
// image ties one of them to another, however the cameras are held.
func TestTwoCamerasDirections(t *testing.T) {
	at := geom.Vec3{X: 1, Y: 1.4, Z: -0.5}
	for _, rolls := range [][2]float64{{0, 0}, {0, math.Pi / 2}, {math.Pi / 2, -math.Pi / 2}, {0.3, math.Pi}, {-0.7, 1.1}} {
		t.Run(fmt.Sprintf("rolled by %.1f and %.1f", rolls[0], rolls[1]), func(t *testing.T) {
			eyes := []camera.Pose{
				rolledEye(geom.Vec3{X: 8, Y: 1.5, Z: 1}, rolls[0]),
				rolledEye(geom.Vec3{X: 2, Y: 2.5, Z: 7}, rolls[1]),
			}
			a := &apart{eyes: []*camera.Pose{&eyes[0], &eyes[1]}}
			if !a.lay([]geom.Vec3{at}) {
				t.Fatal("not laid")
			}
			for e := range eyes {
				_, _, dx, dy, ok := eyes[e].Look(at)
				if !ok {
					t.Fatal("out of view")
				}
				x, y := a.along(0, dx), a.along(0, dy)
				unit := square(eyes[e].Focal / eyes[e].InCamera(at).Z)
				for _, tie := range []float64{x.X*x.Y + y.X*y.Y, x.X*x.Z + y.X*y.Z, x.Y*x.Z + y.Y*y.Z} {
					if math.Abs(tie) > 1e-9*unit {
						t.Errorf("camera %d ties two directions by %.2g of its information", e, tie/unit)
					}
				}
				// A metre along the one that this camera alone shows is a metre across its image.
				own := []float64{x.X*x.X + y.X*y.X, x.Y*x.Y + y.Y*y.Y}
				if math.Abs(own[e]/unit-1) > 1e-9 || own[1-e] > 1e-9*unit {
					t.Errorf("camera %d shows the first two directions by %.3g and %.3g of a metre", e, own[0]/unit, own[1]/unit)
				}
			}
		})
	}
}

// rolledEye is denseEye, rolled about its axis.
func rolledEye(from geom.Vec3, roll float64) camera.Pose {
	p := denseEye(from)
	r := geom.RotationAbout(geom.Vec3{Z: 1}, geom.Angle(roll))
	p.R = geom.Rows(r.Apply(geom.Vec3{X: 1}), r.Apply(geom.Vec3{Y: 1}), geom.Vec3{Z: 1}).Mul(p.R)
	p.T = p.R.Apply(from).Scale(-1)
	return p
}

// TestCamerasInLineAreNotApart: two rays that fall together tell no directions.
func TestCamerasInLineAreNotApart(t *testing.T) {
	at := geom.Vec3{Y: 1.4}
	eyes := []camera.Pose{
		rolledEye(geom.Vec3{X: 8, Y: 1.4}, 0),
		rolledEye(geom.Vec3{X: 6, Y: 1.5, Z: 1}, 0.5),
	}
	a := &apart{eyes: []*camera.Pose{&eyes[0], &eyes[1]}}
	if a.lay([]geom.Vec3{at}) {
		t.Error("laid, with rays 10° apart")
	}
}
