package checks

import (
	"math"
	"sync"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/synth"
)

// madeKinds are the made swings that the properties are tried on.
var madeKinds = []body.Stroke{body.Forehand, body.TwoHandedBackhand, body.Serve, body.ForehandVolley}

// madeClip is a made swing in 3-D (condition W), its points given as level axes: heading
// and origin unknown to the machine.
func madeClip(i int) synth.Clip {
	m := synth.NewSwing(synth.Spec{Stroke: madeKinds[i], Level: body.Advanced, Hand: body.RightHanded, Seed: uint64(40 + i)})
	clip := synth.Shoot(m, synth.World, synth.View{Layout: synth.BlazePose33}, uint64(40+i))
	clip.Setup.Axes, clip.Setup.Player = camera.AxesLevel, body.Player{Stature: m.Build.Stature}
	return clip
}

// over passes a clip through a change.
func (c change) over(clip synth.Clip) synth.Clip {
	frames := make([]body.Frame, len(clip.Frames))
	for i, f := range clip.Frames {
		frames[i] = body.Frame{Index: f.Index, TimeUS: f.TimeUS + int64(1e6*c.shift)}
		for p, w := range f.World {
			v := c.place(geom.Vec3{X: float64(w.X), Y: float64(w.Y), Z: float64(w.Z)})
			frames[i].World[c.point(body.Point(p))] = body.Seen3{X: float32(v.X), Y: float32(v.Y), Z: float32(v.Z), Score: w.Score}
		}
	}
	clip.Frames = frames
	return clip
}

// madeBase is what the machine finds in each made clip, once.
var madeBase = sync.OnceValue(func() [][]*measure.Sheet {
	out := make([][]*measure.Sheet, len(madeKinds))
	each(len(out), func(i int) { out[i] = playClip(madeClip(i)) })
	return out
})

func playClip(c synth.Clip) []*measure.Sheet {
	s, err := play(c.Setup, c.Frames)
	if err != nil {
		return nil
	}
	return s
}

// madeChangeRows try the same changes on made swings, racket and ball included.
func madeChangeRows() (rows []row) {
	for i, c := range changes {
		of := sync.OnceValue(func() []moved {
			out := make([]moved, len(madeKinds))
			before := madeBase()
			each(len(out), func(k int) { out[k] = apartFrom(before[k], playClip(c.over(madeClip(k))), c.shift, c.hand) })
			return out
		})
		rows = append(rows, c.rows("made same", "made swings "+c.name, i, func(*testing.T) []moved { return of() })...)
	}
	return append(rows, resampleRow(), scaleRow())
}

// within is the percentage of figures that two analyses tell alike: factor times the
// first lies within 1.96 joint sd of the second.
func within(t *testing.T, a, b []*measure.Sheet, factor func(unit string) float64) (inside, known float64) {
	if len(a) != 1 || len(b) != 1 || a[0].Stroke != b[0].Stroke {
		t.Errorf("%d and %d swings, or unlike strokes", len(a), len(b))
		return 0, 1
	}
	for _, f := range a[0].Figures {
		g, ok := b[0].Figure(f.Name)
		if !ok || !f.Known() || !g.Known() {
			continue
		}
		known++
		k := factor(f.Unit)
		if math.Abs(k*f.Value-g.Value) <= 1.96*math.Hypot(k*f.SD, g.SD) {
			inside++
		} else {
			t.Logf("%s %s: %.4g ± %.2g and %.4g ± %.2g", a[0].Stroke, f.Name, k*f.Value, k*f.SD, g.Value, g.SD)
		}
	}
	return inside, known
}

func alikeRow(id, quantity string, factor func(unit string) float64, of func(clip synth.Clip) synth.Clip) row {
	return row{id: id, quantity: quantity, unit: "%", want: 95, above: true, source: "symmetry", seen: computed,
		got: func(t *testing.T) float64 {
			before, inside, known := madeBase(), 0., 0.
			after := make([][]*measure.Sheet, len(madeKinds))
			each(len(after), func(i int) { after[i] = playClip(of(madeClip(i))) })
			for i := range after {
				a, b := within(t, before[i], after[i], factor)
				inside, known = inside+a, known+b
			}
			return 100 * inside / known
		}}
}

// resampleRow: every second frame.
func resampleRow() row {
	return alikeRow("made half", "made swings at 60 Hz instead of 120 Hz, the same frames: figures within 1.96 of their joint sd", func(string) float64 { return 1 },
		func(clip synth.Clip) synth.Clip {
			var frames []body.Frame
			for i := 0; i < len(clip.Frames); i += 2 {
				f := clip.Frames[i]
				f.Index = uint32(len(frames))
				frames = append(frames, f)
			}
			clip.Frames = frames
			return clip
		})
}

// scaleRow: a world 7 % larger, stature, racket and all.
func scaleRow() row {
	const k = 1.07
	larger := func(clip synth.Clip, by float64) synth.Clip {
		c := unchanged
		c.place = func(v geom.Vec3) geom.Vec3 { return v.Scale(by) }
		clip = c.over(clip)
		clip.Setup.RacketLength *= by
		clip.Setup.Player.Stature *= by
		return clip
	}
	factor := func(unit string) float64 {
		if unit == "m" || unit == "m/s" {
			return k
		}
		return 1
	}
	return alikeRow("made scale", "made swings, player, racket and every length 7 % larger: figures scaled as their units say, within 1.96 of their joint sd", factor,
		func(clip synth.Clip) synth.Clip { return larger(clip, k) })
}
