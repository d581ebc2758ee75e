package swing_test

import (
	"fmt"
	"os"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

func TestDbg(t *testing.T) {
	if os.Getenv("DBG") == "" {
		t.Skip()
	}
	var st, seed int
	var c string
	var a, b float64
	fmt.Sscanf(os.Getenv("DBG"), "%s %d %d %f %f", &c, &st, &seed, &a, &b)
	m := synth.NewSwing(synth.Spec{Stroke: body.Stroke(st), Seed: uint64(seed) + 100*uint64(st)})
	clip := synth.Shoot(m, synth.Condition(c[0]), synth.View{}, uint64(seed))
	for _, s := range swing.SamplesOf(clip.Setup, clip.Frames) {
		at := clip.Real(float64(s.At))
		if at < a || at > b {
			continue
		}
		p, q := m.At(m.Start+at-0.002), m.At(m.Start+at+0.002)
		mid := func(k synth.Pose) (h [3]float64) {
			x := k.P[body.LeftHip].Add(k.P[body.RightHip]).Scale(.5)
			return [3]float64{x.X, x.Y, x.Z}
		}
		_ = mid
		v := func(k body.Point) float64 {
			c0 := p.P[body.LeftHip].Add(p.P[body.RightHip]).Scale(.5)
			c1 := q.P[body.LeftHip].Add(q.P[body.RightHip]).Scale(.5)
			return q.P[k].Sub(c1).Sub(p.P[k]).Add(c0).Norm() / .004
		}
		fmt.Printf("%.3f %s | true L %.1f R %.1f tip %.1f\n", at, s.Text, v(body.LeftWrist), v(body.RightWrist), v(body.RacketTip))
	}
}
