package track

import (
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
)

const (
	// chestDoubt is the sd of the direction of play where it is taken from a chest that
	// waits, radians: one may wait turned by 10°. Own estimate.
	chestDoubt = 0.2
	// viewDoubt is the sd of the direction of play where it is taken from the side on which a
	// camera is said to stand, radians: whoever films from behind or from a side stands within
	// some 25° of it, anywhere as likely, 25°/√3. Own estimate.
	viewDoubt = 0.25
	// sideways is from how many sds on the two disagree: the chest then does not wait facing
	// the net; servers stand sideways.
	sideways = 2.0
)

// aim is the direction of play: level, of unit length, and its sd about the vertical, radians.
type aim struct {
	u  geom.Vec3
	sd float64
}

// aim returns the direction of play: the court's; else where the waiting chest faces, unless the
// camera is said to stand elsewhere; else by where it is said to stand; false where nothing tells it.
func (m *scene) aim() (aim, bool) {
	if m.onCourt {
		return aim{u: geom.Vec3{X: 1}}, true
	}
	chest, waits := m.facing()
	if !m.viewSaid() {
		return aim{chest, chestDoubt}, waits
	}
	view := aim{geom.Vec3{X: 1}, viewDoubt} // placed so by the view: camera.Locate
	if apart := math.Atan2(chest.Z, chest.X); !waits || math.Abs(apart) > sideways*math.Hypot(chestDoubt, viewDoubt) {
		return view, true
	}
	return aim{chest, chestDoubt}, true
}

// viewSaid reports whether one camera was placed by the side on which it is said to stand.
func (m *scene) viewSaid() bool {
	return m.oneEye() && len(m.w.Cameras) > 0 && m.w.Cameras[0].View != camera.ViewUnknown
}

// facing returns the horizontal direction that the chest faced before the swing: there the
// ball is hit to. ok is false when the chest was not seen for long enough before.
func (m *scene) facing() (u geom.Vec3, ok bool) {
	from, to := m.w.Guess-waitFrom, m.w.Guess-waitTo
	l, r := within(m.places(body.LeftShoulder), from, to), within(m.places(body.RightShoulder), from, to)
	if len(l) < 6 || len(r) < 6 || to-math.Max(l[0].t, r[0].t) < waitLeast {
		return u, false
	}
	mean := func(s []sight) (p geom.Vec3) {
		for i := range s {
			p = p.Add(s[i].p.Scale(1 / float64(len(s))))
		}
		return p
	}
	// The chest's horizontal normal: up × (left → right).
	u = geom.Vec3{Y: 1}.Cross(mean(r).Sub(mean(l))).Flat().Unit()
	return u, u != geom.Vec3{}
}
