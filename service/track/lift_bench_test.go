package track_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
	"example.com/courtkin/service/geom"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

func BenchmarkLift(b *testing.B) {
	m := synth.NewSwing(synth.Spec{Seed: 77})
	st := m.Struck[0]
	mv := func(t float64) *[body.NumPoints]geom.Vec3 { p := m.At(t); return &p.P }
	focus := m.At(st.Contact).P[body.MidHip]
	rng := rand.New(rand.NewPCG(7, 9))
	f := film(mv, focus, math.Max(m.Start, st.Contact-2.3), st.Contact+0.7, camera.ViewRight, true, rng)
	w := &track.Window{Frames: f.frames, Cameras: []camera.Camera{f.cam}, Guess: st.Contact - float64(f.frames[0].TimeUS-10_000_000)/1e6}
	b.ReportAllocs()
	for b.Loop() {
		if track.LiftImage(w, f.eye, true, f.eye.InCamera(focus).Z) == nil {
			b.Fatal("no lift")
		}
	}
}
