package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// The two edges of a racket's head, seen by one camera, show its face turned: across the
// line of sight directly, and along it by being square to the axis.

const (
	faceWidth  = 0.25 // m from edge to edge (rule: at most 0.318; common practice: 0.24–0.27)
	faceSquare = 0.02 // m, how far from square to the axis the line of the edges may be seen
	faceNeeds  = 20   // frames that show both edges
)

// faceSeen returns the direction from the left to the right edge of a racket, seen by one
// camera, whose axis runs along axis; nil where too few frames show the edges.
func (m *scene) faceSeen(axis func(t float64) geom.Vec3) func(t float64, at geom.Vec3) geom.Vec3 {
	hand, _ := m.holdingHand()
	if m.paths[hand] == nil {
		return nil
	}
	n := min(len(m.sights[body.RacketLeft]), len(m.sights[body.RacketRight]))
	start, sights := m.room.sightList(n), m.room.sightList(3*n)
	middle := (m.length + m.throat) / 2
	together(m.sights[body.RacketLeft], m.sights[body.RacketRight], func(l, r *sight) {
		if l.kind != image || r.kind != image {
			return
		}
		u := axis(l.t)
		o, d := l.eye.Ray((l.p.X+r.p.X)/2, (l.p.Y+r.p.Y)/2)
		d = d.Unit()
		far := m.paths[hand].at(l.t).Add(u.Scale(middle)).Sub(o).Dot(d)
		_, dl := l.eye.Ray(l.p.X, l.p.Y)
		_, dr := r.eye.Ray(r.p.X, r.p.Y)
		across := dr.Scale(far / dr.Dot(d)).Sub(dl.Scale(far / dl.Dot(d))) // as far as it is seen, ⟂ d
		if across.Norm() > 2*faceWidth {
			return // a wild point
		}
		e1 := anyPerpendicular(d)
		e2 := d.Cross(e1)
		sd := math.Sqrt2 * l.sd * far / l.eye.Focal
		for _, e := range [2]geom.Vec3{e1, e2} {
			sights = append(sights, sight{kind: reach, t: l.t, dir: e, p: geom.Vec3{X: across.Dot(e)}, sd: sd, w: 1})
		}
		sights = append(sights, sight{kind: reach, t: l.t, dir: u, sd: faceSquare, w: 1})
		// Along the line of sight: across·u + z·(d·u) = 0, and no longer than it is.
		z := 0.0
		if q := d.Dot(u); q != 0 {
			most := math.Sqrt(math.Max(0, faceWidth*faceWidth-across.Dot(across)))
			z = clamp(-across.Dot(u)/q, -most, most)
		}
		start = append(start, sight{kind: place, t: l.t, p: across.Add(d.Scale(z)), sd: 0.05, w: 1})
	})
	if len(start) < faceNeeds {
		return nil
	}
	p, q := m.room.path(), m.room.path()
	if !p.smooth(m.g, start, m.rough[groupRacket], 2, nil) {
		return nil
	}
	if q.smooth(m.g, sights, m.rough[groupRacket], 2, p.mean) {
		p = q
	}
	return func(t float64, _ geom.Vec3) geom.Vec3 {
		u, e := axis(t), p.at(t)
		return e.Sub(u.Scale(e.Dot(u))).Unit()
	}
}
