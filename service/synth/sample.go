package synth

import "example.com/courtkin/service/body"

// strokeShares is how often each stroke comes up in a sample, of 100.
var strokeShares = []struct {
	stroke body.Stroke
	share  int
}{
	{body.Forehand, 28}, {body.TwoHandedBackhand, 20}, {body.OneHandedBackhand, 9}, {body.SliceBackhand, 8},
	{body.Serve, 17}, {body.ForehandVolley, 6}, {body.BackhandVolley, 6}, {body.Overhead, 6},
}

func drawStroke(d draw) body.Stroke {
	n := d.IntN(100)
	for _, s := range strokeShares {
		if n -= s.share; n < 0 {
			return s.stroke
		}
	}
	return body.Forehand
}

// Sample draws one clip of a condition with one to most strokes: single swings and
// practices of one or two kinds of stroke with what happens between them. It is what
// a trial is made of.
func Sample(c Condition, most int, seed uint64) Clip {
	d := newDraw(seed, streamPractice+10)
	spec := Spec{Seed: d.Uint64()}
	if most <= 1 || d.chance(0.4) {
		spec.Stroke = drawStroke(d)
		return Shoot(NewSwing(spec), c, View{}, d.Uint64())
	}
	n := 2 + d.IntN(most-1)
	kinds := [2]body.Stroke{drawStroke(d), drawStroke(d)}
	if kinds[0] == body.Serve || kinds[1] == body.Serve {
		kinds[1] = kinds[0]
	}
	var ks []body.Stroke
	for range n {
		ks = append(ks, kinds[d.IntN(2)])
	}
	shadow := d.chance(0.05)
	m := NewPractice(Practice{Spec: spec, Strokes: ks, Each: func(i int, s *Spec) { s.Shadow = shadow && i == 0 }})
	return Shoot(m, c, View{}, d.Uint64())
}
