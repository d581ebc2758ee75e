package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/body"
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

// span is a stretch of time, seconds from the first frame.
type span struct{ from, to float64 }

// leastShared is how much of the motion two cameras must share before and after
// the guess of impact for the rest to be left aside, seconds: the forward swing and
// the start of the follow-through.
const leastShared = 0.1

// shared returns the stretch that two cameras see: from the second that begins to the
// last but one that ends, on the first one's clock. Beyond it nothing tells how far away a
// point is, and a motion carried on there strays without bound. Clocks differ, so that
// every window has such ends. The zero span where two cameras share too little of it.
func (m *scene) shared(rig *Rig) span {
	first, last := make([]float64, len(rig.Eyes)), make([]float64, len(rig.Eyes))
	for c := range rig.Eyes {
		first[c], last[c] = math.Inf(1), math.Inf(-1)
	}
	for i := range m.w.Frames {
		if c := int(m.w.Frames[i].Camera); c < len(rig.Eyes) {
			t := m.time(i) + rig.Offset[c]
			first[c], last[c] = math.Min(first[c], t), math.Max(last[c], t)
		}
	}
	slices.Sort(first)
	slices.Sort(last)
	s := span{first[1], last[len(last)-2]}
	if !(s.from <= m.w.Guess-leastShared && s.to >= m.w.Guess+leastShared) {
		return span{}
	}
	return s
}

// collectImages sorts the image sights by point.
func (m *scene) collectImages(rig *Rig) {
	for c := range rig.Eyes {
		for i := range m.w.Frames {
			f := &m.w.Frames[i]
			if int(f.Camera) != c {
				continue
			}
			t := m.time(i) + rig.Offset[c]
			if m.stretch.to > 0 && (t < m.stretch.from || t > m.stretch.to) {
				continue
			}
			for p := range f.Image {
				if s := f.Image[p]; s.Score > 0 && looksAt(body.Point(p)) {
					m.sights[p] = append(m.roomFor(p), sight{
						kind: image, t: t, p: place2(s), eye: &rig.Eyes[c], sd: 2, w: 1,
					})
				}
			}
		}
	}
	for p := range m.sights {
		m.sortByTime(m.sights[p])
	}
}

// roomFor returns a point's sights, with room for one in every frame before the first.
func (m *scene) roomFor(p int) []sight {
	if m.sights[p] == nil {
		m.sights[p] = m.room.sightsOf(p, len(m.w.Frames))
	}
	return m.sights[p]
}

// crossed intersects the rays of two cameras to one point wherever their
// sights can be brought to one instant, and returns the places found.
func (m *scene) crossed(s []sight) (out []sight) {
	var byEye [2][]*sight
	if m.room != nil {
		byEye = [2][]*sight{m.room.byEye[0][:0], m.room.byEye[1][:0]}
		defer func() { m.room.byEye = byEye }()
	}
	for i := range s {
		x := &s[i]
		if x.kind != image {
			continue
		}
		for k := range byEye {
			if len(byEye[k]) == 0 || byEye[k][0].eye == x.eye {
				byEye[k] = append(byEye[k], x)
				break
			}
		}
	}
	a, b := byEye[0], byEye[1]
	if len(b) == 0 {
		return nil
	}
	out = m.room.sightList(len(a))
	j := 0
	from, other := a[0].eye.Center(), b[0].eye.Center()
	for _, x := range a {
		for j < len(b) && b[j].t < x.t {
			j++
		}
		if j == 0 || j == len(b) || b[j].t-b[j-1].t > bridge {
			continue
		}
		y := b[j-1].p.Lerp(b[j].p, (x.t-b[j-1].t)/(b[j].t-b[j-1].t))
		if p, miss := meet(from, x.eye.Direction(x.p.X, x.p.Y), other, b[j].eye.Direction(y.X, y.Y)); miss < missLimit {
			out = append(out, sight{kind: place, t: x.t, p: p, sd: 0.03, w: 1})
		}
	}
	return out
}

// meet returns the midpoint of the shortest segment between two rays, from oa along da and
// from ob along db, and its length.
func meet(oa, da, ob, db geom.Vec3) (geom.Vec3, float64) {
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

// sortByTime puts sights into time order, those of one time as they come.
func sortByTime(s []sight) { mergeRuns(s, func(x *sight) float64 { return x.t }) }

// sortByTime is sortByTime in the scene's room.
func (m *scene) sortByTime(s []sight) {
	if m.room == nil {
		sortByTime(s)
		return
	}
	m.room.sorting = mergeRunsIn(m.room.sorting, s, func(x *sight) float64 { return x.t })
}

// mergeRuns puts s into time order, what is of one time as it comes: runs that are in
// order already are merged pair by pair, since sights come so from each source.
func mergeRuns[T any](s []T, t func(*T) float64) { mergeRunsIn(nil, s, t) }

// mergeRunsIn is mergeRuns in the memory of room, which it returns as it has grown.
func mergeRunsIn[T any](room, s []T, t func(*T) float64) []T {
	ends := make([]int, 0, 16)
	for i := 1; i <= len(s); i++ {
		if i == len(s) || t(&s[i]) < t(&s[i-1]) {
			ends = append(ends, i)
		}
	}
	for len(ends) > 1 {
		kept, from := ends[:0], 0
		for k := 0; k < len(ends); k += 2 {
			end := ends[k]
			if k+1 < len(ends) {
				mid := end
				end = ends[k+1]
				for from < mid && t(&s[from]) <= t(&s[mid]) { // these stand in their places
					from++
				}
				room = append(room[:0], s[from:mid]...)
				merge(s[from:end], room, t)
			}
			kept, from = append(kept, end), end
		}
		ends = kept
	}
	return room
}

// merge merges first, a copy of what s begins with, and the rest of s, which are each in
// time order.
func merge[T any](s, first []T, t func(*T) float64) {
	j := len(first)
	for k := 0; len(first) > 0; k++ {
		if j < len(s) && t(&s[j]) < t(&first[0]) {
			s[k] = s[j]
			j++
		} else {
			s[k] = first[0]
			first = first[1:]
		}
	}
}
