package track

import (
	"math"

	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

// Rig is from where the motion was seen: a pose for each camera and what is
// added to each camera's times, seconds. Poses look from level axes (court
// axes where the marks are known) into the image.
type Rig struct {
	Eyes   []camera.Pose
	Offset []float64

	OffsetSD float64 // seconds
}

// missLimit is how far two rays to one point may pass each other, metres,
// before they are taken for two different things.
const missLimit = 0.25

// bridge is the longest gap between two frames of a camera, seconds, across
// which an image point is interpolated for a start.
const bridge = 0.06

// collectImages sorts the image sights by point.
func (m *scene) collectImages(rig *Rig) {
	for i := range m.w.Frames {
		f := &m.w.Frames[i]
		if int(f.Camera) >= len(rig.Eyes) {
			continue
		}
		t := m.time(i) + rig.Offset[f.Camera]
		for p := range f.Image {
			if s := f.Image[p]; s.Score > 0 {
				m.sights[p] = append(m.sights[p], sight{
					kind: image, t: t, p: place2(s), eye: &rig.Eyes[f.Camera], sd: 2, w: 1,
				})
			}
		}
	}
	for p := range m.sights {
		sortByTime(m.sights[p])
	}
}

// crossed intersects the rays of two cameras to one point wherever their
// sights can be brought to one instant, and returns the places found.
func crossed(s []sight) (out []sight) {
	byEye := map[*camera.Pose][]sight{}
	var eyes []*camera.Pose
	for i := range s {
		if s[i].kind != image {
			continue
		}
		if byEye[s[i].eye] == nil {
			eyes = append(eyes, s[i].eye)
		}
		byEye[s[i].eye] = append(byEye[s[i].eye], s[i])
	}
	if len(eyes) < 2 {
		return nil
	}
	a, b := byEye[eyes[0]], byEye[eyes[1]]
	for _, x := range a {
		if y, ok := between(b, x.t); ok {
			if p, miss := meet(x.eye, x.p, eyes[1], y); miss < missLimit {
				out = append(out, sight{kind: place, t: x.t, p: p, sd: 0.03, w: 1})
			}
		}
	}
	return out
}

// between interpolates a camera's image point at t.
func between(s []sight, t float64) (geom.Vec3, bool) {
	lo, hi := 0, len(s)
	for lo < hi {
		if mid := (lo + hi) / 2; s[mid].t < t {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	if lo == 0 || lo == len(s) || s[lo].t-s[lo-1].t > bridge {
		return geom.Vec3{}, false
	}
	a, b := &s[lo-1], &s[lo]
	return a.p.Lerp(b.p, (t-a.t)/(b.t-a.t)), true
}

// meet returns the midpoint of the shortest segment between two rays, and its length.
func meet(a *camera.Pose, pa geom.Vec3, b *camera.Pose, pb geom.Vec3) (geom.Vec3, float64) {
	oa, da := a.Ray(pa.X, pa.Y)
	ob, db := b.Ray(pb.X, pb.Y)
	da, db = da.Unit(), db.Unit()
	w, c := oa.Sub(ob), da.Dot(db)
	den := 1 - c*c
	if den < 1e-6 {
		return geom.Vec3{}, math.Inf(1)
	}
	s := (c*db.Dot(w) - da.Dot(w)) / den
	u := (db.Dot(w) - c*da.Dot(w)) / den
	p, q := oa.Add(da.Scale(s)), ob.Add(db.Scale(u))
	if s < 0 || u < 0 {
		return geom.Vec3{}, math.Inf(1)
	}
	return p.Lerp(q, 0.5), p.Sub(q).Norm()
}

func sortByTime(s []sight) {
	for i := 1; i < len(s); i++ {
		for j := i; j > 0 && s[j].t < s[j-1].t; j-- {
			s[j], s[j-1] = s[j-1], s[j]
		}
	}
}
