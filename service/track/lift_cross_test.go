package track

import (
	"math"
	"testing"
)

// Shoulders believed wider than they are never seem to lie across the view as they turn
// through it: the gap between the two signs is 0.22 m where it is least. What is believed of
// posture still decides on which side the turn ends, where another width would close the gap,
// and not where none would.
func TestATurnPassesTheGapThatAWrongWidthLeaves(t *testing.T) {
	const width, seen, n = 0.35, 0.33, 31 // metres, and the widest that the image shows
	for _, c := range []struct {
		name   string
		widest float64
		ends   float64 // the sign that posture prefers after the turn
		want   float64
	}{
		{"passes", seen, 1, 1},
		{"turns back", seen, -1, -1},
		{"far from across the view", 0.15, 1, -1},
	} {
		l := &lift{t: make([]float64, n)}
		w := newWays(n, 40)
		w.cross = make([][2]float64, n)
		for i := range n {
			l.t[i] = float64(i) / 30
			angle := 0.25 + math.Pi/2*math.Tanh(float64(i-10)/6) // of the turn past across
			across := c.widest * math.Abs(math.Cos(math.Min(math.Max(angle, -1.2), 0.6)))
			h := math.Sqrt(width*width - across*across)
			w.cross[i] = [2]float64{crossing(h, width, 0.05), 0}
			for k := range 4 {
				a, b := signs(k)
				w.depth[i][k] = [2]float64{a * h, b * 0.1}
				if i <= 9 && a > 0 {
					w.cost[i][k] = 2
				} else if i > 9 && a != c.ends {
					w.cost[i][k] = 0.15
				}
				if b > 0 {
					w.cost[i][k]++ // the hips' sign is no question here
				}
			}
		}
		picks := l.even(w)
		if first, _ := signs(picks[0]); first != -1 {
			t.Errorf("%s: starts on the wrong side", c.name)
		}
		if last, _ := signs(picks[n-1]); last != c.want {
			t.Errorf("%s: the turn ends on side %v, want %v", c.name, last, c.want)
		}
		w.cross = nil
		if last, _ := signs(l.even(w)[n-1]); c.name == "passes" && last == c.want {
			t.Errorf("%s: without knowing of the width's error, too: the test shows nothing", c.name)
		}
	}
}
