package track_test

import (
	"fmt"
	"math"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/track"
)

// look prints a lift beside the truth.
func look(l *track.Lifted, f *filmed, mv mover, t0, contact float64) {
	up := f.eye.R.Apply(geom.Vec3{Y: 1})
	fwd := geom.Vec3{Z: 1}
	fwd = fwd.Sub(up.Scale(fwd.Dot(up))).Unit()
	for k, v := range l.Theta {
		fmt.Printf(" θ%d %.3f", k, v)
	}
	fmt.Println()
	for i, s := range l.T {
		t := s + t0
		if t < contact-1.2 || t > contact+0.1 || i%2 == 1 {
			continue
		}
		p := mv(t)
		var c [track.LiftJoints]geom.Vec3
		for j := range c {
			c[j] = f.eye.InCamera(p[j])
		}
		deg := func(a, b geom.Vec3) float64 { return angleAbout(up, fwd, yawOf(up, a, b)) }
		fmt.Printf("%+.2f sh %4.0f/%4.0f hip %4.0f/%4.0f  ", t-contact, deg(c[3], c[4]), deg(l.P[3][i], l.P[4][i]), deg(c[9], c[10]), deg(l.P[9][i], l.P[10][i]))
		hip, got := c[9].Lerp(c[10], .5).Z, l.P[9][i].Lerp(l.P[10][i], .5).Z
		for _, q := range []body.Point{0, 3, 4, 5, 6, 7, 8, 11, 12, 13, 14} {
			fmt.Printf(" %s%s %.2f/%.2f", q.String()[:1], q.String()[len(q.String())-2:], c[q].Z-hip, l.P[q][i].Z-got)
		}
		fmt.Println()
	}
	_ = math.Pi
}
