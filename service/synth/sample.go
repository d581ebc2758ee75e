package synth

import "example.com/courtkin/service/body"

// Sample draws one clip of a condition, of at most most strokes: what a trial is made of.
func Sample(c Condition, most int, seed uint64) Clip {
	d := newDraw(seed, streamPractice)
	kinds := []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.Serve}
	m := NewSwing(Spec{Stroke: kinds[d.IntN(len(kinds))], Seed: d.Uint64()})
	return Shoot(m, c, View{}, d.Uint64())
}
