package signal

import (
	"math"
	"math/rand/v2"
	"testing"
)

// coloured makes n errors of a noise, step seconds apart.
func coloured(n Noise, step float64, count int) []float64 {
	rng := rand.New(rand.NewPCG(1, 1))
	keep, slow := math.Exp(-step/n.Memory), rng.NormFloat64()
	x := make([]float64, count)
	for i := range x {
		x[i] = n.Lasting*slow + n.White*rng.NormFloat64()
		slow = keep*slow + math.Sqrt(1-keep*keep)*rng.NormFloat64()
	}
	return x
}

// TestSplitUndoesWhatDifferencesDo: noise of known colour is found again from its
// fourth differences.
func TestSplitUndoesWhatDifferencesDo(t *testing.T) {
	for _, c := range []Colour{{0, 0.1}, {0.5, 0.05}, {0.8, 0.2}} {
		x := coloured(Noise{2 * math.Sqrt(1-c.Share), 2 * math.Sqrt(c.Share), c.Memory}, 1./60, 40000)
		var d []float64
		for i := 4; i < len(x); i++ {
			d = append(d, (x[i-4]-4*x[i-3]+6*x[i-2]-4*x[i-1]+x[i])/math.Sqrt(70))
		}
		if got := c.Split(SD(d), 1./60).Total(); math.Abs(got-2) > 0.06 {
			t.Errorf("share %g: %.3f, want 2", c.Share, got)
		}
	}
}

// TestEchoHearsTheColour: share and memory are found again, the memory to the next
// of the table's, by series pooled whose levels and gaps do not matter.
func TestEchoHearsTheColour(t *testing.T) {
	for _, want := range []Colour{{0.5, 0.06}, {0.8, 0.12}, {0.4, 0.25}} {
		x := coloured(Noise{math.Sqrt(1 - want.Share), math.Sqrt(want.Share), want.Memory}, 1./60, 20000)
		var e Echo
		for part := range 4 {
			piece := x[5000*part : 5000*(part+1)]
			for i := range piece {
				if piece[i] += float64(part); i%17 == 0 {
					piece[i] = math.NaN()
				}
			}
			e.Add(Deviations(piece, 1e-6))
		}
		got := e.Colour(1. / 60)
		if math.Abs(got.Share-want.Share) > 0.08 || math.Abs(math.Log2(got.Memory/want.Memory)) > 1.1 {
			t.Errorf("heard %+v, want %+v", got, want)
		}
	}
	var silent Echo
	if silent.Colour(1./60) != UsualColour || Deviations(make([]float64, 19), 1) != nil {
		t.Error("too few errors tell a colour")
	}
}
