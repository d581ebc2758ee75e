package track

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestScoreLaw learns a made law (known answer): noise that falls as the score rises.
func TestScoreLaw(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var s []sight
	for i := range 3000 {
		score := 0.2 + 0.7*rng.Float64()
		sd := 0.01 * (2 - 1.5*score)
		x := sight{kind: place, t: float64(i) / 120, score: float32(score), w: 1}
		x.p.X, x.p.Y, x.p.Z = sd*rng.NormFloat64(), sd*rng.NormFloat64(), sd*rng.NormFloat64()
		s = append(s, x)
	}
	l := lawOf(deviations(s, 0.012))
	if !l.known {
		t.Fatal("no law")
	}
	want := (2 - 1.5*0.3) / (2 - 1.5*0.8)
	if got := l.at(0.3) / l.at(0.8); math.Abs(got-want) > 0.25*want {
		t.Errorf("noise at 0.3 is %.2f times that at 0.8, want %.2f ± 25 %%", got, want)
	}
}

// TestScoreLawNeedsScoresThatVary: the same score everywhere says nothing.
func TestScoreLawNeedsScoresThatVary(t *testing.T) {
	var s []sight
	for i := range 1000 {
		s = append(s, sight{kind: place, t: float64(i) / 120, score: 0.9, w: 1})
	}
	if l := lawOf(deviations(s, 0.01)); l.known || l.at(0.1) != 1 {
		t.Errorf("law %+v from scores that do not vary", l)
	}
}
