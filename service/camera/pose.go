package camera

import (
	"math"

	"example.com/courtkin/service/geom"
)

// numParams counts the parameters of a pose.
const numParams = 8

// Params is a small change of a pose, or a row of its covariance:
//
//	0–2  rotation vector in camera axes, radians: R ← exp([ω]×)·R
//	3–5  T, metres
//	6    natural logarithm of the focal length
//	7    radial distortion k1
type Params [numParams]float64

// Cov is the covariance of a pose, in the order of Params.
type Cov [numParams]Params

// Pose is where a camera stands and how it sees: a pinhole with square pixels,
// the principal point at the image's centre and mild radial distortion.
//
//	c = R·p + T            camera axes: x right, y down, z away from the camera
//	x = c.x/c.z, y = c.y/c.z, d = 1 + K1·(x² + y²)
//	u = CX + Focal·d·x, v = CY + Focal·d·y
//
// (Brown 1971, Photogramm Eng 37:855; only the first radial term.)
type Pose struct {
	R      geom.Mat3 // world axes → camera axes
	T      geom.Vec3 // world origin in camera axes, metres
	Focal  float64   // pixels
	K1     float64   // in (−0.5, 0.5)
	CX, CY float64   // principal point, pixels

	Cov Cov
	RMS float64 // of the reprojected marks, pixels; 0 when no marks were used

	Net     Net    // what the posts' marks turned out to be
	Dropped []Mark // marks left out because they contradict the others
	// Ambiguous is set when another place or focal length fits nearly as well; the
	// covariance then spans both.
	Ambiguous bool
	// FocalDenied is set when the marks contradict the focal length that the
	// client gave; it was then found from the marks.
	FocalDenied bool
}

// nearest is the least distance along the axis, metres, at which a point counts
// as in front of the camera. A phone does not focus nearer.
const nearest = 0.05

// Center returns the camera's place in world axes.
func (p *Pose) Center() geom.Vec3 { return p.back(p.T).Scale(-1) }

// back turns a direction of the camera's axes into the world's.
func (p *Pose) back(v geom.Vec3) geom.Vec3 {
	r := &p.R
	return geom.Vec3{
		X: r[0]*v.X + r[3]*v.Y + r[6]*v.Z,
		Y: r[1]*v.X + r[4]*v.Y + r[7]*v.Z,
		Z: r[2]*v.X + r[5]*v.Y + r[8]*v.Z,
	}
}

// Forward returns the unit viewing direction in world axes.
func (p *Pose) Forward() geom.Vec3 { return p.R.Row(2) }

// InCamera returns the world point in camera axes.
func (p *Pose) InCamera(w geom.Vec3) geom.Vec3 { return p.R.Apply(w).Add(p.T) }

// Project returns the pixel at which a world point is seen; false when it lies
// behind the camera or so far out that the distortion model folds.
func (p *Pose) Project(w geom.Vec3) (x, y float64, ok bool) {
	return p.ProjectCamera(p.InCamera(w))
}

// ProjectCamera is Project for a point in camera axes.
func (p *Pose) ProjectCamera(c geom.Vec3) (x, y float64, ok bool) {
	if !(c.Z > nearest) {
		return math.NaN(), math.NaN(), false
	}
	xn, yn := c.X/c.Z, c.Y/c.Z
	r2 := xn*xn + yn*yn
	d := 1 + p.K1*r2
	return p.CX + p.Focal*d*xn, p.CY + p.Focal*d*yn, 1+3*p.K1*r2 > 0
}

// Jacobian returns the derivatives of the pixel with respect to the world
// point: rows x and y, pixels per metre. The point must project.
func (p *Pose) Jacobian(w geom.Vec3) (dx, dy geom.Vec3) {
	cx, cy := p.jacobianCamera(p.InCamera(w))
	return p.back(cx), p.back(cy)
}

// Look is Project and Jacobian at once, written out: most of a solve's time with cameras goes
// here.
func (p *Pose) Look(w geom.Vec3) (x, y float64, dx, dy geom.Vec3, ok bool) {
	r := &p.R
	z := r[6]*w.X + r[7]*w.Y + r[8]*w.Z + p.T.Z
	if !(z > nearest) {
		return math.NaN(), math.NaN(), dx, dy, false
	}
	iz := 1 / z
	xn := (r[0]*w.X + r[1]*w.Y + r[2]*w.Z + p.T.X) * iz
	yn := (r[3]*w.X + r[4]*w.Y + r[5]*w.Z + p.T.Y) * iz
	kx, ky := p.K1*xn, p.K1*yn
	bent := kx*xn + ky*yn // what the lens adds, as a share
	f := p.Focal * (1 + bent)
	x, y = p.CX+f*xn, p.CY+f*yn
	// As in jacobianCamera, over z.
	f *= iz
	g := 2 * p.Focal * iz
	xx, xy, yy := f+g*kx*xn, g*kx*yn, f+g*ky*yn
	xz, yz := -(xx*xn + xy*yn), -(xy*xn + yy*yn)
	dx = geom.Vec3{X: r[0]*xx + r[3]*xy + r[6]*xz, Y: r[1]*xx + r[4]*xy + r[7]*xz, Z: r[2]*xx + r[5]*xy + r[8]*xz}
	dy = geom.Vec3{X: r[0]*xy + r[3]*yy + r[6]*yz, Y: r[1]*xy + r[4]*yy + r[7]*yz, Z: r[2]*xy + r[5]*yy + r[8]*yz}
	return x, y, dx, dy, 1+3*bent > 0
}

// jacobianCamera returns the derivatives with respect to the point in camera axes.
func (p *Pose) jacobianCamera(c geom.Vec3) (dx, dy geom.Vec3) {
	iz := 1 / c.Z
	xn, yn := c.X*iz, c.Y*iz
	d := 1 + p.K1*(xn*xn+yn*yn)
	// With respect to the undistorted image point.
	xx := p.Focal * (d + 2*p.K1*xn*xn)
	xy := p.Focal * 2 * p.K1 * xn * yn
	yy := p.Focal * (d + 2*p.K1*yn*yn)
	dx = geom.Vec3{X: xx * iz, Y: xy * iz, Z: -(xx*xn + xy*yn) * iz}
	dy = geom.Vec3{X: xy * iz, Y: yy * iz, Z: -(xy*xn + yy*yn) * iz}
	return dx, dy
}

// ParamJacobian returns the derivatives of the pixel of a world point with
// respect to the pose's parameters. The point must project.
func (p *Pose) ParamJacobian(w geom.Vec3) (jx, jy Params) {
	r := p.R.Apply(w)
	c := r.Add(p.T)
	dx, dy := p.jacobianCamera(c)
	xn, yn := c.X/c.Z, c.Y/c.Z
	r2 := xn*xn + yn*yn
	d := 1 + p.K1*r2
	fill := func(j *Params, g geom.Vec3, n float64) {
		// d(ω×r) · g = ω · (r×g)
		t := r.Cross(g)
		*j = Params{t.X, t.Y, t.Z, g.X, g.Y, g.Z, p.Focal * d * n, p.Focal * n * r2}
	}
	fill(&jx, dx, xn)
	fill(&jy, dy, yn)
	return jx, jy
}

// Ray returns the line on which a pixel's world point lies: the camera's place
// and the unit direction away from it, in world axes.
func (p *Pose) Ray(x, y float64) (origin, direction geom.Vec3) {
	return p.Center(), p.Direction(x, y)
}

// Direction returns Ray's direction alone.
func (p *Pose) Direction(x, y float64) geom.Vec3 { return p.back(p.CameraRay(x, y)).Unit() }

// CameraRay returns the direction (x/z, y/z, 1) of a pixel in camera axes, with
// the distortion taken out.
func (p *Pose) CameraRay(x, y float64) geom.Vec3 {
	xd, yd := (x-p.CX)/p.Focal, (y-p.CY)/p.Focal
	s := undistort(math.Sqrt(xd*xd+yd*yd), p.K1)
	return geom.Vec3{X: xd * s, Y: yd * s, Z: 1}
}

// undistort returns r/rd for rd = r·(1 + k·r²), by Newton's method. Past the
// fold of a negative k (rd > rd of r² = −1/(3k)) the fold's radius is returned.
func undistort(rd, k float64) float64 {
	if k == 0 || rd == 0 {
		return 1
	}
	r := rd
	if k < 0 {
		fold := math.Sqrt(-1 / (3 * k))
		if rd >= fold*2/3 {
			return fold / rd
		}
		r = min(r, fold*0.999)
	}
	for range 20 {
		step := (r*(1+k*r*r) - rd) / (1 + 3*k*r*r)
		r -= step
		if math.Abs(step) < 1e-14*rd {
			break
		}
	}
	return r / rd
}

// Moved returns the pose changed by d; covariance and the rest are kept.
func (p *Pose) Moved(d Params) Pose {
	q := *p
	w := geom.Vec3{X: d[0], Y: d[1], Z: d[2]}
	q.R = geom.RotationAbout(w.Unit(), geom.Angle(w.Norm())).Mul(p.R)
	q.T = p.T.Add(geom.Vec3{X: d[3], Y: d[4], Z: d[5]})
	q.Focal = p.Focal * math.Exp(d[6])
	q.K1 = p.K1 + d[7]
	return q
}

// to returns the change that turns p into q.
func (p *Pose) to(q *Pose) Params {
	w := rotationVector(q.R.Mul(p.R.T()))
	t := q.T.Sub(p.T)
	return Params{w.X, w.Y, w.Z, t.X, t.Y, t.Z, math.Log(q.Focal / p.Focal), q.K1 - p.K1}
}

// rotationVector returns the axis times the angle, in [0, π], of a rotation.
func rotationVector(r geom.Mat3) geom.Vec3 {
	v := geom.Vec3{X: r[7] - r[5], Y: r[2] - r[6], Z: r[3] - r[1]}
	s, c := v.Norm()/2, (r[0]+r[4]+r[8]-1)/2
	if s < 1e-9 {
		return v.Scale(0.5) // also at π, where the axis is lost; no camera is turned so far
	}
	return v.Scale(math.Atan2(s, c) / (2 * s))
}

// Draw returns a pose drawn from the posterior; z holds independent standard
// normal deviates. Zero z returns the pose itself.
func (p *Pose) Draw(z Params) Pose {
	l, ok := cholesky(p.Cov, 1e-12)
	if !ok {
		return *p
	}
	var d Params
	for i := range d {
		for j := 0; j <= i; j++ {
			d[i] += l[i][j] * z[j]
		}
	}
	return p.Moved(d)
}

// PixelSD returns the sd of a world point's pixel that comes of the pose's own
// error, pixels, as the root of the trace of the 2×2 covariance halved.
func (p *Pose) PixelSD(w geom.Vec3) float64 {
	jx, jy := p.ParamJacobian(w)
	return math.Sqrt((p.Cov.along(jx) + p.Cov.along(jy)) / 2)
}

// along returns jᵀ·C·j.
func (c *Cov) along(j Params) float64 {
	var s float64
	for a := range j {
		for b := range j {
			s += j[a] * c[a][b] * j[b]
		}
	}
	return max(0, s)
}

// CenterCov returns the covariance of the camera's place in world axes, m².
// From C = −Rᵀ·T and R ← exp([ω]×)·R follows dC = Rᵀ·(ω×T) − Rᵀ·dT.
func (p *Pose) CenterCov() geom.Mat3 {
	rt := p.R.T()
	var cols [6]geom.Vec3
	unit := [3]geom.Vec3{{X: 1}, {Y: 1}, {Z: 1}}
	for k, e := range unit {
		cols[k] = rt.Apply(e.Cross(p.T))
		cols[3+k] = rt.Apply(e).Scale(-1)
	}
	var m geom.Mat3
	for a, ca := range cols {
		for b, cb := range cols {
			addOuter(&m, ca, cb, p.Cov[a][b])
		}
	}
	return m
}

// addOuter adds w·a·bᵀ to m.
func addOuter(m *geom.Mat3, a, b geom.Vec3, w float64) {
	x, y := [3]float64{a.X, a.Y, a.Z}, [3]float64{b.X, b.Y, b.Z}
	for i := range 3 {
		for j := range 3 {
			m[3*i+j] += w * x[i] * y[j]
		}
	}
}
