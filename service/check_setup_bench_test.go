//go:build unix

package service

import (
	"syscall"
	"testing"

	"example.com/courtkin/service/synth"
)

// BenchmarkCheckSetup is what one look at a placement costs, in CPU time beside the
// clock: strokes are filmed and measured from there, and from where a camera might
// stand better. A phone's owner waits for it: 1.5 s of the clock at most on two cores.
func BenchmarkCheckSetup(b *testing.B) {
	srv, err := New(Config{})
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		condition synth.Condition
	}{{"space", synth.World}, {"two", synth.TwoViews}, {"phone", synth.Phone}, {"image", synth.ImageOnly}} {
		b.Run("view="+c.name, func(b *testing.B) {
			req := standing(b, c.condition, synth.View{})
			before := processorTime(b)
			for b.Loop() {
				if _, err := srv.CheckSetup(b.Context(), req); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(1e3*(processorTime(b)-before)/float64(b.N), "cpu-ms/op")
		})
	}
}

// processorTime is what this process has used so far, s.
func processorTime(tb testing.TB) float64 {
	tb.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		tb.Fatal(err)
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}
