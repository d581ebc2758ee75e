package camera

import (
	"math"
	"testing"

	"example.com/courtkin/service/geom"
)

// TestCourt checks the marks against the ITF Rules of Tennis, Rule 1 and the plan of
// the court (literature.md): 23.77 m × 8.23 / 10.97 m, service lines 6.40 m from the
// net, net 0.914 m and 1.07 m high, posts 0.914 m outside the sideline.
func TestCourt(t *testing.T) {
	at := func(m Mark) geom.Vec3 { p, _ := m.Point(); return p }
	apart := func(a, b Mark) float64 { return at(a).Sub(at(b)).Norm() }
	for _, c := range []struct {
		what string
		got  float64
		want float64
	}{
		{"length", apart(1, 18), 23.77},
		{"doubles width", apart(1, 5), 10.97},
		{"singles width", apart(2, 4), 8.23},
		{"service line to net", at(11).X - at(7).X, 6.40},
		{"far service line to net", at(16).X - at(11).X, 6.40},
		{"service boxes' width", apart(6, 8), 8.23},
		{"net at centre", apart(11, 12), 0.914},
		{"net at posts", apart(9, 10), 1.07},
		{"post outside sideline", at(5).Z - at(13).Z, -0.914},
		{"net halves the court", at(11).X, 23.77 / 2},
	} {
		near(t, c.what, c.got, c.want, 1e-12)
	}
	if p, _ := Mark(10).point(NetOnSticks); math.Abs(p.Z+8.23/2+0.914) > 1e-12 {
		t.Errorf("singles stick at %v", p)
	}
	for m := Mark(1); m <= NumMarks; m++ {
		p := at(m)
		if mirror := p.MirrorZ(); p.Z != 0 {
			found := false
			for o := Mark(1); o <= NumMarks; o++ {
				found = found || at(o) == mirror
			}
			if !found {
				t.Errorf("mark %d has no mirror image", m)
			}
		}
	}
	if _, ok := Mark(0).Point(); ok {
		t.Error("mark 0 exists")
	}
	if _, ok := Mark(23).Point(); ok {
		t.Error("mark 23 exists")
	}
}
