package swing

import (
	"testing"

	"example.com/courtkin/service/body"
)

// TestWalls sets one frame after another of a standing player, 1/60 s apart, and
// says where somebody else stands.
func TestWalls(t *testing.T) {
	shift := func(f *body.Frame, metres float64, points ...body.Point) {
		for _, p := range points {
			f.World[p].X += float32(metres)
			f.Image[p].X += float32(250 * metres) // standing's metre is 250 px
		}
	}
	var all []body.Point
	for p := range body.NumBody {
		all = append(all, body.Point(p))
	}
	for _, c := range []struct {
		name   string
		change func(*body.Frame)
		wall   bool
	}{
		{"the same", func(*body.Frame) {}, false},
		{"at a sprint's 7 m/s", func(f *body.Frame) { shift(f, 7.0/60, all...) }, false},
		{"a body's width aside", func(f *body.Frame) { shift(f, 0.5, all...) }, true},
		{"one hip far off", func(f *body.Frame) { shift(f, 0.8, body.LeftHip) }, false},
		{"arms and a knee far off", func(f *body.Frame) {
			shift(f, 0.8, body.LeftWrist, body.RightWrist, body.LeftElbow, body.RightElbow, body.LeftKnee)
		}, false},
		{"left and right mistaken", func(f *body.Frame) {
			for p := range body.NumBody {
				if q := body.Point(p).Twin(); int(q) > p {
					f.World[p], f.World[q] = f.World[q], f.World[p]
					f.Image[p], f.Image[q] = f.Image[q], f.Image[p]
				}
			}
		}, false},
		{"nobody", func(f *body.Frame) { *f = body.Frame{Index: f.Index, TimeUS: f.TimeUS} }, false},
		{"in an image alone", func(f *body.Frame) {
			shift(f, 0.5, all...)
			f.World = [body.NumPoints]body.Seen3{}
		}, true},
		{"in an image whose world points stay by the hips", func(f *body.Frame) {
			for _, p := range all {
				f.Image[p].X += 125
			}
		}, true},
	} {
		r := newRing(newRows(false))
		a, b := standing(0, 60, layouts[33]), standing(1, 60, layouts[33])
		c.change(&b)
		for _, f := range []*body.Frame{&a, &b} {
			r.push(r.put(f))
		}
		if r.wall(0) || r.wall(1) != c.wall {
			t.Errorf("%s: walls %v %v, want false %v", c.name, r.wall(0), r.wall(1), c.wall)
		}
	}
}

// TestAFitStopsAtAWall: the sample before and after somebody else comes into view
// is of one of them alone.
func TestAFitStopsAtAWall(t *testing.T) {
	m, _ := New(Setup{})
	v := &m.det.view
	for i := range 60 {
		f := standing(i, 60, layouts[33])
		if i >= 30 { // somebody 3 m further on
			for p := range body.NumBody {
				f.World[p].X += 3
				f.Image[p].X += 750
			}
		}
		v.ring.push(v.ring.put(&f))
	}
	for k := uint64(5); k < 55; k++ {
		s := v.sample(k)
		if fast, _ := s.fastest(); s.ok && fast > 0.5 {
			t.Errorf("frame %d: a standing hand at %.1f m/s", k, fast)
		}
		if s.other != (k == 30) {
			t.Errorf("frame %d: somebody else %v", k, s.other)
		}
	}
	if from, to := m.person(v.ring, v.ring.time(40), 0.1); from != v.ring.time(30) || to < v.ring.time(59) {
		t.Errorf("from %d to %d µs, want from %d", from, to, v.ring.time(30))
	}
	if from, to := m.person(v.ring, v.ring.time(20), 0.1); from > 0 || to != v.ring.time(29) {
		t.Errorf("from %d to %d µs, want to %d", from, to, v.ring.time(29))
	}
	if from, to := m.person(v.ring, v.ring.time(30), 0.1); from > 0 || to < v.ring.time(59) {
		t.Errorf("a wall at the contact: from %d to %d µs", from, to)
	}
}
