package signal

import (
	"fmt"
	"testing"
)

func BenchmarkSmoother(b *testing.B) {
	for _, n := range []int{120, 480} {
		samples, _ := driven(n, 1e6, .01, 1)
		b.Run(fmt.Sprintf("samples=%d", n), func(b *testing.B) {
			var s Smoother
			b.ReportAllocs()
			for b.Loop() {
				if _, err := s.Smooth(samples, 1e6); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFit(b *testing.B) {
	samples, _ := driven(120, 1e6, .01, 1)
	var s Smoother
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := s.Fit(samples); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSplineGCV(b *testing.B) {
	t, y := unevenWave(120, .01, 1)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := FitSplineGCV(t, y, nil, 3); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkDTW(b *testing.B) {
	_, x := unevenWave(120, .01, 1)
	_, y := unevenWave(120, .01, 2)
	b.ReportAllocs()
	for b.Loop() {
		DTW(x, y, 12)
	}
}
