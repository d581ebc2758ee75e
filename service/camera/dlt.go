package camera

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"example.com/courtkin/service/geom"
)

// dlt holds the eleven parameters of the direct linear transformation, L1 to L11:
//
//	u = (L1·X + L2·Y + L3·Z + L4) / (L9·X + L10·Y + L11·Z + 1)
//	v = (L5·X + L6·Y + L7·Z + L8) / (L9·X + L10·Y + L11·Z + 1)
//
// (Abdel-Aziz & Karara 1971). As a 3×4 matrix the last entry is 1.
type dlt [11]float64

// fitDLT solves the linear least squares for six or more points that do not lie
// in one plane; false when they do.
func fitDLT(s []sighting) (dlt, bool) {
	if len(s) < 6 {
		return dlt{}, false
	}
	a, b := mat.NewDense(2*len(s), 11, nil), mat.NewVecDense(2*len(s), nil)
	for i, v := range s {
		w := v.world
		a.SetRow(2*i, []float64{w.X, w.Y, w.Z, 1, 0, 0, 0, 0, -v.x * w.X, -v.x * w.Y, -v.x * w.Z})
		a.SetRow(2*i+1, []float64{0, 0, 0, 0, w.X, w.Y, w.Z, 1, -v.y * w.X, -v.y * w.Y, -v.y * w.Z})
		b.SetVec(2*i, v.x)
		b.SetVec(2*i+1, v.y)
	}
	return leastSquares(a, b)
}

func leastSquares(a *mat.Dense, b *mat.VecDense) (l dlt, ok bool) {
	// Unit columns keep unlike units from looking like a lost rank.
	scale := make([]float64, 11)
	for j := range scale {
		scale[j] = mat.Norm(a.ColView(j), 2)
		if scale[j] == 0 {
			return l, false
		}
		for i := range b.Len() {
			a.Set(i, j, a.At(i, j)/scale[j])
		}
	}
	var qr mat.QR
	qr.Factorize(a)
	var x mat.VecDense
	if qr.Cond() > 1e9 || qr.SolveVecTo(&x, false, b) != nil {
		return l, false
	}
	for j := range l {
		l[j] = x.AtVec(j) / scale[j]
	}
	return l, true
}

// dltPoint returns the world point that several views see, by linear least squares.
func dltPoint(views []dlt, pixels [][2]float64) (geom.Vec3, bool) {
	var a geom.Mat3
	var b geom.Vec3
	for i, l := range views {
		for k := range 2 {
			uv := pixels[i][k]
			o := 4 * k
			row := geom.Vec3{X: l[o] - uv*l[8], Y: l[o+1] - uv*l[9], Z: l[o+2] - uv*l[10]}
			addOuter(&a, row, row, 1)
			b = b.Add(row.Scale(uv - l[o+3]))
		}
	}
	inv, ok := invert3(a)
	return inv.Apply(b), ok
}

// dltStart turns the linear solution into a pose: with P = K·[R | t], the last
// row of P gives R's third row and the scale; the focal length is the mean of
// the two that the upper rows show. Skew and the principal point that it would
// find are dropped, as the refinement does not use them.
func dltStart(s []sighting, f frameSize) (Pose, bool) {
	centred := make([]sighting, len(s))
	for i, v := range s {
		v.x, v.y = (v.x-f.cx)/f.side, (v.y-f.cy)/f.side
		centred[i] = v
	}
	l, ok := fitDLT(centred)
	if !ok {
		return Pose{}, false
	}
	p1, p2, p3 := geom.Vec3{X: l[0], Y: l[1], Z: l[2]}, geom.Vec3{X: l[4], Y: l[5], Z: l[6]}, geom.Vec3{X: l[8], Y: l[9], Z: l[10]}
	n := p3.Norm()
	inv, ok := invert3(geom.Rows(p1, p2, p3))
	if !ok {
		return Pose{}, false
	}
	c := inv.Apply(geom.Vec3{X: l[3], Y: l[7], Z: 1}).Scale(-1)
	z := p3.Scale(1 / n)
	if spreadOf(s).mean.Sub(c).Dot(z) < 0 {
		z, p1, p2 = z.Scale(-1), p1.Scale(-1), p2.Scale(-1)
	}
	x, y := p1.Sub(z.Scale(p1.Dot(z))), p2.Sub(z.Scale(p2.Dot(z)))
	focal := f.side * math.Sqrt(x.Norm()*y.Norm()) / n
	x, y = nearestPair(x, y)
	r := geom.Rows(x, y, z)
	p := Pose{R: r, T: r.Apply(c).Scale(-1), Focal: focal, CX: f.cx, CY: f.cy}
	return p, p.T.Finite() && x.Cross(y).Dot(z) > 0.9 && focal > 0
}
