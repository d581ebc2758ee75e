//go:build unix

package swing_test

import (
	"slices"
	"syscall"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// cut is what the machine hands to the settling of one swing.
type cut struct {
	window []body.Frame
	guess  swing.Candidate
	setup  swing.Setup
}

// deaf is a sink that keeps nothing.
type deaf struct{}

func (deaf) Event(swing.LiveEvent)   {}
func (deaf) Reading(swing.Reading)   {}
func (deaf) Swing(*measure.Sheet)    {}
func (deaf) Warning(measure.Warning) {}
func (deaf) Progress(swing.Progress) {}

// cutsOf lists the windows that the machine cuts from made clips, at least n.
func cutsOf(b *testing.B, c synth.Condition, n int) (out []cut) {
	for seed := uint64(9000); len(out) < n; seed++ {
		clip := synth.Sample(c, 6, seed)
		m, err := swing.New(clip.Setup)
		if err != nil {
			b.Fatal(err)
		}
		m.SettleWith(func(window []body.Frame, guess swing.Candidate, setup swing.Setup) (*measure.Sheet, error) {
			out = append(out, cut{slices.Clone(window), guess, setup})
			return swing.Unsettled(window, guess, setup)
		})
		to := deaf{}
		for i := range clip.Frames {
			if err := m.Push(&clip.Frames[i], to); err != nil {
				b.Fatal(err)
			}
		}
		m.Finish(to)
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

// BenchmarkSettle settles swings whole, from the window to the sheet; cpu-ms/swing
// is the processor's time, which a busy machine does not stretch.
func BenchmarkSettle(b *testing.B) {
	for _, c := range []synth.Condition{'W', 'T', 'P', 'I', 'B', 'S'} {
		b.Run("condition="+string(c), func(b *testing.B) {
			cuts := cutsOf(b, c, 12)
			b.ReportAllocs()
			before, i := processorTime(), 0
			b.ResetTimer()
			for b.Loop() {
				k := &cuts[i%len(cuts)]
				i++
				if _, err := swing.Settle(slices.Clone(k.window), k.guess, k.setup); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(1e3*(processorTime()-before)/float64(i), "cpu-ms/swing")
		})
	}
}
