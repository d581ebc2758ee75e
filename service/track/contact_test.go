//go:build unix

package track_test

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

// TestEvidenceIsWhatThePlainWayFinds holds every point's evidence for a break, and
// the ball's, against the path solved anew for every instant. The two models differ by the
// plain way's grid, and the fast way's weights are a bound; so what decides is
// compared: the likely instants, near the peak and on the whole.
func TestEvidenceIsWhatThePlainWayFinds(t *testing.T) {
	if testing.Short() {
		t.Skip("the plain way is slow")
	}
	all, apart := 0, 0
	for _, c := range []synth.Condition{'W', 'T', 'P'} {
		for _, w := range windowsOf(c, 4) {
			for _, e := range track.EvidenceOf(&w) {
				all += 2
				fast, plain := momentsOf(e.T, e.Fast), momentsOf(e.T, e.Plain)
				if d := math.Abs(fast[0] - plain[0]); d > 0.004+plain[1]/2 {
					t.Logf("%c, %v: impact at %.4f ± %.4f s, the plain way at %.4f ± %.4f", c, e.Point, fast[0], fast[1], plain[0], plain[1])
					apart++
				}
				fast, plain = momentsOf(e.FineT, e.Fine[0]), momentsOf(e.FineT, e.Fine[1])
				if d := math.Abs(fast[0] - plain[0]); d > 0.0005+plain[1]/2 {
					t.Logf("%c, %v, fine: impact at %.4f ± %.4f s, the plain way at %.4f ± %.4f", c, e.Point, fast[0], fast[1], plain[0], plain[1])
					apart++
				}
				if e.Point == body.Ball && c != 'W' {
					i := argMax(e.Plain)
					// More is better: the plain way may stop short of the best flight.
					if d := e.Plain[i] - e.Fast[i]; !(d < 0.05) {
						t.Errorf("%c: the ball's evidence at its best is %.3f nats less than the plain way's, at most 0.05", c, d)
					}
				}
			}
		}
	}
	// Sights with left and right swapped have two sets of weights, and either way may
	// miss the better.
	if 20*apart > all {
		t.Errorf("%d of %d instants differ, at most 5 %%", apart, all)
	}
}

// momentsOf is mean and sd of a density given by its logarithm.
func momentsOf(ts, vs []float64) (m [2]float64) {
	top := vs[argMax(vs)]
	var sum, first, second float64
	for i, v := range vs {
		p := math.Exp(v - top)
		sum, first = sum+p, first+p*ts[i]
	}
	for i, v := range vs {
		d := ts[i] - first/sum
		second += math.Exp(v-top) * d * d
	}
	return [2]float64{first / sum, math.Sqrt(second / sum)}
}

func argMax(v []float64) (at int) {
	for i, x := range v {
		if x > v[at] {
			at = i
		}
	}
	return at
}

// BenchmarkEvidence sets the two ways to the evidence for a break against each other.
func BenchmarkEvidence(b *testing.B) {
	for _, c := range []synth.Condition{'W', 'T'} {
		w := windowsOf(c, 1)[0]
		fast, plain := track.Ways(&w)
		for _, way := range []struct {
			name string
			look func()
		}{{"fast", fast}, {"plain", plain}} {
			b.Run("condition="+string(c)+"/"+way.name, func(b *testing.B) {
				before, n := processorTime(), 0
				for b.Loop() {
					way.look()
					n++
				}
				b.ReportMetric(1e3*(processorTime()-before)/float64(n), "cpu-ms/swing")
			})
		}
	}
}
