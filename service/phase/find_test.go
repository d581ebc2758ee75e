package phase

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
)

// A parabola's vertex is exact at uneven knots.
func TestVertex(t *testing.T) {
	f := func(x float64) float64 { return 7 - 3*(x-1.3)*(x-1.3) }
	at := func(x float64) knot { return knot{x, f(x)} }
	top := vertex(at(1), at(1.25), at(1.6))
	near(t, "vertex instant", top.t, 1.3, 1e-12)
	near(t, "vertex value", top.v, 7, 1e-12)
	if got := vertex(knot{1, 2}, knot{1, 3}, knot{2, 0}); got != (knot{1, 3}) {
		t.Errorf("vertex of equal instants = %v, want the middle", got)
	}
}

// Largest agrees with a search on a fine grid, wherever the stretch's ends fall.
func TestLargestAgainstGrid(t *testing.T) {
	var k Curves
	k.Read(madeForehand().course(), Context{Stroke: body.Forehand})
	v := k.ShoulderTurn
	for _, s := range [][2]float64{{0, 2}, {0.9, 1.1}, {1.7, 1.703}, {1.1, 1.9}, {1.95, 2}, {1.2, 1.2}} {
		want := math.Inf(-1)
		for i := range 20001 {
			want = math.Max(want, shoulderTurn(s[0]+(s[1]-s[0])*float64(i)/20000))
		}
		_, got := k.Largest(v, s[0], s[1])
		near(t, "largest turn", got, want, 2e-4)
		_, got = k.Smallest(v, s[0], s[1])
		if got > want {
			t.Errorf("smallest in %v = %v, over the largest %v", s, got, want)
		}
	}
	at, _ := k.Largest(v, 1.5, 1.4)
	near(t, "empty stretch", at, math.NaN(), 0)
	at, _ = k.Largest(v, math.NaN(), 1.4)
	near(t, "absent end", at, math.NaN(), 0)
	at, _ = k.Largest(v, 1.9, 2.1)
	near(t, "stretch over impact", at, math.NaN(), 0)
}

// MostBent agrees with Largest of the flexion at every sample.
func TestMostBentAgainstEverySample(t *testing.T) {
	var k Curves
	c := madeForehand().course()
	k.Read(c, Context{Stroke: body.Forehand})
	hip, knee, ankle := body.LeftShoulder, body.RightShoulder, body.LeftAnkle
	bend := make([]float64, len(c.T))
	for i := range bend {
		bend[i] = Flexion(c.Pos[hip][i], c.Pos[knee][i], c.Pos[ankle][i])
	}
	inner := 0
	for _, s := range [][2]float64{{0, 2}, {0.9, 1.1}, {1.7, 1.703}, {1.1, 1.9}, {1.95, 2}, {1.2, 1.2}, {1.5, 1.4}, {math.NaN(), 2}} {
		at, most := k.Largest(bend, s[0], s[1])
		if at > s[0] && at < s[1] {
			inner++
		}
		gotAt, got := k.MostBent(s[0], s[1], hip, knee, ankle)
		near(t, "most bent", got, most, 0)
		near(t, "and where", gotAt, at, 0)
	}
	if inner == 0 {
		t.Error("no stretch has its peak within")
	}
}

func TestBracketAtContact(t *testing.T) {
	var k Curves
	c := madeForehand().course()
	k.Read(c, Context{Stroke: body.Forehand})
	if i, w := k.Bracket(madeContact); i+1 != c.Break || w != 1 {
		t.Errorf("contact is at %d + %v, want the end of the samples before, %d", i, w, c.Break)
	}
	if i, w := k.Bracket(madeContact + 1e-9); i != c.Break+1 || w > 1e-3 {
		t.Errorf("just after contact is at %d + %v, want %d", i, w, c.Break+1)
	}
	for _, x := range []float64{-1, 0} {
		if i, w := k.Bracket(x); i != 0 || w != 0 {
			t.Errorf("Bracket(%v) = %d + %v", x, i, w)
		}
	}
	if i, w := k.Bracket(99); i != len(c.T)-2 || w != 1 {
		t.Errorf("past the end: %d + %v", i, w)
	}
}
