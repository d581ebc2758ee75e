//go:build unix

package track_test

import (
	"fmt"
	"slices"
	"syscall"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

// windowsOf cuts windows around made swings, as the machine does.
func windowsOf(c synth.Condition, n int) (out []track.Window) {
	for seed := range uint64(n) {
		clip := synth.Sample(c, 1, 9000+seed)
		at := clip.Truth[0].Contact
		w := track.Window{
			Axes: clip.Setup.Axes, Cameras: clip.Setup.Cameras, Player: clip.Setup.Player,
			RacketLength: clip.Setup.RacketLength, Slow: clip.Stretch, GuessSD: 0.06,
		}
		for _, f := range clip.Frames {
			if r := clip.Real(float64(f.TimeUS)); r > at-2.0 && r < at+0.7 {
				w.Frames = append(w.Frames, f)
			}
		}
		w.Guess = at - clip.Real(float64(w.Frames[0].TimeUS)) + 0.03*float64(int(seed%3)-1)
		out = append(out, w)
	}
	return out
}

// processorTime is the time that this process has kept processors busy, seconds.
func processorTime() float64 {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	s := func(t syscall.Timeval) float64 { return float64(t.Sec) + 1e-6*float64(t.Usec) }
	return s(u.Utime) + s(u.Stime)
}

// TestDrawsRepeat draws into memory that other draws have used.
func TestDrawsRepeat(t *testing.T) {
	w := windowsOf('W', 1)[0]
	p, err := track.Solve(&w)
	if err != nil {
		t.Fatal(err)
	}
	var room track.Course
	for _, k := range []int{3, 0, 1, 3} {
		p.DrawInto(&room, k)
		if fmt.Sprint(&room) != fmt.Sprint(p.Draw(k)) {
			t.Errorf("draw %d into used memory differs", k)
		}
	}
}

// BenchmarkSolve settles swings with 32 draws, as many as measures of one view are read from;
// cpu-ms/swing is the processor's time, which a busy machine does not stretch.
func BenchmarkSolve(b *testing.B) {
	for _, c := range []synth.Condition{'W', 'T', 'P', 'I', 'S'} {
		b.Run("condition="+string(c), func(b *testing.B) {
			ws := windowsOf(c, 12)
			b.ReportAllocs()
			var c track.Course
			before, i := processorTime(), 0
			b.ResetTimer()
			for b.Loop() {
				w := ws[i%len(ws)]
				w.Frames = slices.Clone(w.Frames)
				i++
				p, err := track.Solve(&w)
				if err != nil {
					b.Fatal(err)
				}
				for k := range 32 {
					if p.DrawInto(&c, k); !c.Has[body.LeftShoulder] {
						b.Fatal("no course")
					}
				}
			}
			b.ReportMetric(1e3*(processorTime()-before)/float64(i), "cpu-ms/swing")
		})
	}
}

// TestCourtsSeenBeforehand solves with the poses that a stream keeps for all its windows.
func TestCourtsSeenBeforehand(t *testing.T) {
	for _, c := range []synth.Condition{'T', 'I'} {
		w := windowsOf(c, 1)[0]
		again := w
		again.Frames, again.Courts = slices.Clone(w.Frames), track.SeeCourt(w.Cameras)
		p, err := track.Solve(&w)
		q, err2 := track.Solve(&again)
		if err != nil || err2 != nil {
			t.Fatal(err, err2)
		}
		if fmt.Sprint(p.Mean()) != fmt.Sprint(q.Mean()) {
			t.Errorf("%c: another course with the poses solved beforehand", c)
		}
	}
}
