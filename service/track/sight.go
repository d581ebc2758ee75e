package track

import (
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// kind says what a sight tells of a point.
type kind uint8

const (
	place kind = iota // where it is, with one sd for every axis, metres
	image             // where a camera's image shows it, pixels
	reach             // how far it is along one direction, metres
)

// sight is one observation of a point at an instant.
type sight struct {
	kind kind
	t    float64   // seconds
	p    geom.Vec3 // place: where; image: X, Y in pixels; reach: X holds the distance
	dir  geom.Vec3 // reach: the unit direction
	eye  *camera.Pose
	sd   float64   // metres or pixels, as the solve weighs it
	h    *hiss     // how it errs, as draws simulate it
	errs []float64 // reach of a lift: its error in each of its draws, metres; nil elsewhere
	w    float64   // robust weight in [0, (ν+dim)/ν], set by the solver
}

// line is one scalar sight: c·x = y with variance v, x the point's place.
type line struct {
	c    geom.Vec3
	y, v float64
}

// dim is the number of scalars that the sight holds.
func (s *sight) dim() int {
	switch s.kind {
	case image:
		return 2
	case reach:
		return 1
	}
	return 3
}

// lines writes the sight as scalar sights, linearised at the place ref.
func (s *sight) lines(ref geom.Vec3, out []line) []line {
	v := s.sd * s.sd / s.w
	switch s.kind {
	case image:
		x, y, dx, dy, ok := s.eye.Look(ref)
		if !ok {
			return append(out, line{v: 1}, line{v: 1}) // behind the camera: says nothing
		}
		return append(out,
			line{dx, s.p.X - x + dx.Dot(ref), v},
			line{dy, s.p.Y - y + dy.Dot(ref), v})
	case reach:
		return append(out, line{s.dir, s.p.X, v})
	}
	return append(out,
		line{geom.Vec3{X: 1}, s.p.X, v},
		line{geom.Vec3{Y: 1}, s.p.Y, v},
		line{geom.Vec3{Z: 1}, s.p.Z, v})
}

// chi2 is the squared standardised residual at the place x, without the weight.
func (s *sight) chi2(x geom.Vec3) float64 {
	var d geom.Vec3
	switch s.kind {
	case image:
		u, v, ok := s.eye.Project(x)
		if !ok {
			return 1e6
		}
		d = geom.Vec3{X: s.p.X - u, Y: s.p.Y - v}
	case reach:
		d = geom.Vec3{X: s.p.X - s.dir.Dot(x)}
	default:
		d = s.p.Sub(x)
	}
	return d.Dot(d) / (s.sd * s.sd)
}

// look returns the sight's squared standardised residual at the place x, and
// without its weight the information that it gives there and the pull of its residual.
func (s *sight) look(x geom.Vec3) (chi2 float64, info sym3, pull geom.Vec3) {
	v := 1 / (s.sd * s.sd)
	switch s.kind {
	case image:
		u, w, dx, dy, ok := s.eye.Look(x)
		if !ok {
			return 1e6, info, pull // behind the camera: says nothing
		}
		ex, ey := s.p.X-u, s.p.Y-w
		addOuter(&info, dx, v)
		addOuter(&info, dy, v)
		return v * (ex*ex + ey*ey), info, dx.Scale(v * ex).Add(dy.Scale(v * ey))
	case reach:
		e := s.p.X - s.dir.Dot(x)
		addOuter(&info, s.dir, v)
		return v * e * e, info, s.dir.Scale(v * e)
	}
	e := s.p.Sub(x)
	return v * e.Dot(e), diagonal(v), e.Scale(v)
}

// reweigh sets the sight's robust weight for the place x.
func (s *sight) reweigh(x geom.Vec3) { s.w = robustWeight(s.chi2(x), s.dim()) }

// studentDF is the freedom of the Student t noise that stands for the gross
// errors of pose estimators. 4 is the usual robust choice (Lange, Little &
// Taylor 1989, JASA 84:881–896).
const studentDF = 4

// robustWeight is the weight of an observation of dim scalars with the given
// squared standardised residual under Student t noise (Lange et al. 1989, §3).
func robustWeight(chi2 float64, dim int) float64 {
	return (studentDF + float64(dim)) / (studentDF + chi2)
}
