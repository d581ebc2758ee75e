package camera

import (
	"example.com/courtkin/service/geom"
)

// essential returns E with c1ᵀ·E·c0 = 0 for the camera-axes directions c0 and
// c1 in which two cameras see one point (Longuet-Higgins 1981, Nature 293:133):
// E = [t]×·R with R, t from camera 0 to camera 1.
func essential(p0, p1 *Pose) geom.Mat3 {
	r := p1.R.Mul(p0.R.T())
	t := p1.T.Sub(r.Apply(p0.T)).Unit()
	cross := geom.Mat3{0, -t.Z, t.Y, t.Z, 0, -t.X, -t.Y, t.X, 0}
	return cross.Mul(r)
}
