package body

import "testing"

func TestLayoutsHoldEachPointOnce(t *testing.T) {
	for name, c := range map[string]struct {
		layout Layout
		places int
		used   int
	}{
		// places: the layouts' own names; used: those that the core has a use for
		"COCO 17":      {COCO17, 17, 15},
		"BlazePose 33": {BlazePose33, 33, 21},
		"BODY 25":      {Body25, 25, 21},
	} {
		seen := map[Point]bool{}
		for i, p := range c.layout {
			if p == Unused {
				continue
			}
			if seen[p] || p >= RacketTip {
				t.Errorf("%s: place %d is %v", name, i, p)
			}
			seen[p] = true
		}
		if len(c.layout) != c.places || len(seen) != c.used {
			t.Errorf("%s: %d places, %d used; want %d, %d", name, len(c.layout), len(seen), c.places, c.used)
		}
	}
}

// TestLayoutsMirror: a point's twin must be in the layout too, or a left-hander
// would be seen worse than a right-hander.
func TestLayoutsMirror(t *testing.T) {
	for _, l := range []Layout{COCO17, BlazePose33, Body25} {
		has := map[Point]bool{}
		for _, p := range l {
			has[p] = true
		}
		for p := range has {
			if p != Unused && !has[p.Twin()] {
				t.Errorf("%v without %v", p, p.Twin())
			}
		}
	}
}

func TestPointNamed(t *testing.T) {
	for name, want := range map[string]struct {
		p     Point
		known bool
	}{
		"nose": {Nose, true}, "right_heel": {RightHeel, true}, "head_top": {HeadTop, true},
		"left_eye": {Unused, true}, "racket_tip": {Unused, false}, "ball": {Unused, false}, "Nose": {Unused, false}, "": {Unused, false},
	} {
		if p, known := PointNamed(name); p != want.p || known != want.known {
			t.Errorf("%q: %v, %v", name, p, known)
		}
	}
}
