package camera

import (
	"math"

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

// epipolarError returns how far two directions (x, y, 1) are from seeing one
// point, over the sd that image noise var0, var1 (in units of x, y) gives it: the
// first-order distance of Sampson 1982 (Comput Graph Image Process 18:97).
func epipolarError(e *geom.Mat3, c0, c1 geom.Vec3, var0, var1 float64) float64 {
	l1 := e.Apply(c0)
	l0 := geom.Vec3{X: e[0]*c1.X + e[3]*c1.Y + e[6]*c1.Z, Y: e[1]*c1.X + e[4]*c1.Y + e[7]*c1.Z}
	v := var0*(l0.X*l0.X+l0.Y*l0.Y) + var1*(l1.X*l1.X+l1.Y*l1.Y)
	if v <= 0 {
		return 0
	}
	return c1.Dot(l1) / math.Sqrt(v)
}
