package camera

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
)

// markedPair returns two true cameras 90° ± 30° apart and what the court marks tell of them.
func markedPair(r *rand.Rand) (truth [2]Pose, told [2]Pose, ok bool) {
	for i, p := range twoViews(r) {
		truth[i] = p
		cam := Camera{Width: 1920, Height: 1080, Marks: seenMarks(&p, r, 1)}
		q, err := Solve(cam)
		if err != nil {
			return truth, told, false
		}
		told[i] = q
	}
	return truth, told, true
}

func TestClockOffset(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 1))
	var z2, worst float64
	var offErr []float64
	const n = 24
	for done := 0; done < n; {
		truth, told, ok := markedPair(r)
		if !ok {
			continue
		}
		done++
		s := randomSwinger(r)
		offset := 0.4*r.Float64() - 0.2
		frames := [2][]body.Frame{
			s.film(&truth[0], 0, 0, 3, 60, 0, 1.5, r),
			s.film(&truth[1], 1, 0.1, 2.9, []float64{60, 30, 120}[done%3], -offset, 1.5, r),
		}
		fit, err := ClockOffset(told, frames, 0.3)
		if err != nil {
			t.Fatal(err)
		}
		z := (fit.Offset - offset) / fit.SD
		z2 += min(z*z, 25)
		worst = max(worst, math.Abs(z))
		offErr = append(offErr, math.Abs(fit.Offset-offset))
		if math.Abs(z) > 3 {
			t.Logf("offset off by %.2f ms, sd %.2f, scale %.1f px", 1e3*(fit.Offset-offset), 1e3*fit.SD, fit.RMS)
		}
	}
	mean := 0.0
	for _, e := range offErr {
		mean += e / n
	}
	t.Logf("mean error %.2f ms, rms z %.2f, worst z %.1f", 1e3*mean, math.Sqrt(z2/n), worst)
	if math.Sqrt(z2/n) > 1.4 || mean > 0.003 {
		t.Error("offsets are worse than they say")
	}
}

func TestClockOffsetByHeight(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 1))
	bad := 0
	for n := 0; n < 20; n++ {
		views := twoViews(r)
		s := randomSwinger(r)
		offset := 0.4*r.Float64() - 0.2
		frames := [2][]body.Frame{
			s.film(&views[0], 0, 0, 3, 60, 0, 1.5, r),
			s.film(&views[1], 1, 0, 3, 60, -offset, 1.5, r),
		}
		fit, err := ClockOffsetByHeight(frames, 0.3)
		if err != nil || math.Abs(fit.Offset-offset) > 3*fit.SD {
			bad++
			t.Logf("%.1f ms off, sd %.1f: %v", 1e3*(fit.Offset-offset), 1e3*fit.SD, err)
		}
	}
	if bad > 3 {
		t.Errorf("%d of 20 beyond 3 sd", bad)
	}
	if _, err := ClockOffsetByHeight([2][]body.Frame{}, 0.3); err != ErrNoCommonMotion {
		t.Errorf("no frames: %v", err)
	}
	if _, err := ClockOffset([2]Pose{}, [2][]body.Frame{}, 0.3); err != ErrNoCommonMotion {
		t.Errorf("no frames: %v", err)
	}
}

func BenchmarkClockOffset(b *testing.B) {
	r := rand.New(rand.NewPCG(7, 1))
	truth, told, ok := markedPair(r)
	for !ok {
		truth, told, ok = markedPair(r)
	}
	s := randomSwinger(r)
	frames := [2][]body.Frame{
		s.film(&truth[0], 0, 0, 3, 60, 0, 1.5, r),
		s.film(&truth[1], 1, 0, 3, 60, 0.1, 1.5, r),
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ClockOffset(told, frames, 0.3); err != nil {
			b.Fatal(err)
		}
	}
}
