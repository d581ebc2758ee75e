package camera

import (
	"errors"
	"math"

	"example.com/courtkin/service/geom"
)

// Pixel is a place in an image, x right, y down.
type Pixel struct{ X, Y float64 }

// Errors of Triangulate.
var (
	ErrTooFewViews = errors.New("camera: a point needs two views")
	ErrParallel    = errors.New("camera: the views' rays are parallel")
	ErrBehind      = errors.New("camera: the rays meet behind a camera")
)

// Triangulate returns the world point that several cameras see, by weighted least
// squares on the reprojection, and its covariance in m². poses, points and
// sigma (pixels, > 0) go together.
//
// The start is the point nearest to all rays; Gauss–Newton steps refine it
// (Hartley & Sturm 1997, CVIU 68:146, for why the pixels and not the rays
// should be fitted). The covariance is that of the image noise alone: the
// poses' own error is common to a whole clip, so draw poses (Pose.Draw) for it.
func Triangulate(poses []Pose, points []Pixel, sigma []float64) (geom.Vec3, geom.Mat3, error) {
	if len(poses) < 2 || len(points) != len(poses) || len(sigma) != len(poses) {
		return geom.Vec3{}, geom.Mat3{}, ErrTooFewViews
	}
	w, ok := nearestToRays(poses, points)
	if !ok {
		return geom.Vec3{}, geom.Mat3{}, ErrParallel
	}
	var cov geom.Mat3
	for range 5 {
		a, g, front := pointEquations(poses, points, sigma, w)
		if !front {
			return geom.Vec3{}, geom.Mat3{}, ErrBehind
		}
		if cov, ok = invert3(a); !ok {
			return geom.Vec3{}, geom.Mat3{}, ErrParallel
		}
		step := cov.Apply(g)
		w = w.Add(step)
		if step.Norm() < 1e-7 {
			break
		}
	}
	if !w.Finite() {
		return geom.Vec3{}, geom.Mat3{}, ErrParallel
	}
	return w, cov, nil
}

// Misfit returns the sum of squared reprojection errors over noise of a world
// point: χ² with 2·views − 3 degrees of freedom after Triangulate.
func Misfit(poses []Pose, points []Pixel, sigma []float64, w geom.Vec3) float64 {
	sum := 0.0
	for i := range poses {
		x, y, _ := poses[i].Project(w)
		dx, dy := (points[i].X-x)/sigma[i], (points[i].Y-y)/sigma[i]
		sum += dx*dx + dy*dy
	}
	return sum
}

// nearestToRays minimises Σ |(I − d·dᵀ)(w − o)|² over rays with origin o and
// unit direction d.
func nearestToRays(poses []Pose, points []Pixel) (geom.Vec3, bool) {
	var a geom.Mat3
	var b geom.Vec3
	for i := range poses {
		o, d := poses[i].Ray(points[i].X, points[i].Y)
		m := geom.Identity3
		addOuter(&m, d, d, -1)
		for k := range m {
			a[k] += m[k]
		}
		b = b.Add(m.Apply(o))
	}
	inv, ok := invert3(a)
	w := inv.Apply(b)
	return w, ok && w.Finite()
}

// pointEquations returns JᵀWJ and JᵀWr of the reprojection of w.
func pointEquations(poses []Pose, points []Pixel, sigma []float64, w geom.Vec3) (a geom.Mat3, g geom.Vec3, front bool) {
	for i := range poses {
		x, y, ok := poses[i].Project(w)
		if !ok {
			return a, g, false
		}
		jx, jy := poses[i].Jacobian(w)
		k := 1 / (sigma[i] * sigma[i])
		addOuter(&a, jx, jx, k)
		addOuter(&a, jy, jy, k)
		g = g.Add(jx.Scale(k * (points[i].X - x))).Add(jy.Scale(k * (points[i].Y - y)))
	}
	return a, g, true
}

// Foreshortening returns how far the ends of a segment of known length differ in depth
// when it is seen as long as seen (both metres, scaled orthography), and its angle out of
// the image plane in [0°, 90°]. The sign stays open. False when it is seen longer than it is.
//
//	dZ² = l² − s²
//
// (Taylor 2000, CVIU 80:349).
func Foreshortening(length, seen float64) (depth float64, out geom.Angle, ok bool) {
	if !(length > 0) || !(seen >= 0) || seen > length {
		return 0, 0, false
	}
	depth = math.Sqrt((length - seen) * (length + seen))
	return depth, geom.Angle(math.Atan2(depth, seen)), true
}
