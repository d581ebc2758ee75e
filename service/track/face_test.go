package track

import (
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// showFace films the edges of the stage's racket, whose face rolls about the axis at rate
// rad/s, with noise in pixels, and moves the racket to where a fist rigid with it, its wrist
// at −hold in the racket's own frame, has it. It returns the true direction of the face.
func (s *rodStage) showFace(hold geom.Vec3, rate, noise float64) func(t float64) geom.Vec3 {
	m := s.m
	face := func(t float64) geom.Vec3 {
		u := s.axis(t)
		e := anyPerpendicular(u)
		return geom.RotationAbout(u, geom.Angle(rate*t)).Apply(e)
	}
	rng := rand.New(rand.NewPCG(7, 8))
	for p := body.RacketTip; p <= body.RacketRight; p++ {
		m.sights[p] = nil
	}
	eye := &m.rig.Eyes[0]
	for k := range 60 {
		t := float64(k) / 60
		u, f := s.axis(t), face(t)
		grip := s.grip(t).Add(u.Scale(hold.X)).Add(f.Scale(hold.Y)).Add(u.Cross(f).Scale(hold.Z))
		for _, p := range [...]body.Point{body.RacketTip, body.RacketButt, body.RacketLeft, body.RacketRight} {
			at := grip.Add(u.Scale(m.along(p)))
			switch p {
			case body.RacketLeft:
				at = at.Sub(f.Scale(faceWidth / 2))
			case body.RacketRight:
				at = at.Add(f.Scale(faceWidth / 2))
			}
			x, y, _ := eye.Project(at)
			px := geom.Vec3{X: x + noise*rng.NormFloat64(), Y: y + noise*rng.NormFloat64()}
			m.sights[p] = append(m.sights[p], sight{kind: image, t: t, p: px, eye: eye, sd: noise, w: 1, h: &hiss{white: noise}})
		}
	}
	m.rough = roughOf
	return face
}

// The edges show which way the face looks, depth and all, and a fist that is rigid with a rolling
// racket is told to be: the grip beside the wrist along the line of sight then comes out,
// which the forearm's axes cannot give.
func TestARigidFistIsHeldByTheFace(t *testing.T) {
	s := newRodStage(9, 1)
	want := geom.Vec3{X: 0.03, Y: 0.02, Z: -0.05}
	face := s.showFace(want, 4, 1.5)
	seen := s.m.faceSeen(s.axis)
	if seen == nil {
		t.Fatal("no face")
	}
	for tm := 0.1; tm < 0.9; tm += 0.05 {
		if off := geom.Between(seen(tm, geom.Vec3{}), face(tm)).Degrees(); off > 12 {
			t.Errorf("at %.2f s the face is told %.1f° off", tm, off)
		}
	}
	holds := s.m.holdsOf(body.RightWrist, s.axis, seen)
	if len(holds) != 2 || holds[1].share < 0.9 {
		t.Fatalf("%d holds, the face's with a share of %.2f", len(holds), holds[len(holds)-1].share)
	}
	if d := holds[1].mean.Sub(want).Norm(); d > 0.012 {
		t.Errorf("hold %v, want %v: %.3f m off", holds[1].mean, want, d)
	}
}

// A grip that keeps its place beside the forearm is counted there, whatever the face does.
func TestAForearmsHoldStaysTheForearms(t *testing.T) {
	s := newRodStage(9, 1)
	var was [2][]sight
	was[0], was[1] = s.m.sights[body.RacketTip], s.m.sights[body.RacketButt]
	s.showFace(geom.Vec3{X: 0.02}, 4, 1.5)
	seen := s.m.faceSeen(s.axis)
	s.m.sights[body.RacketTip], s.m.sights[body.RacketButt] = was[0], was[1]
	holds := s.m.holdsOf(body.RightWrist, s.axis, seen)
	if len(holds) != 2 || holds[0].share < 0.9 {
		t.Fatalf("%d holds, the forearm's with a share of %.2f", len(holds), holds[0].share)
	}
}
