package camera

import (
	"math"
	"testing"
)

// A ball that crosses the racket in the image during the take-back is far away, and its
// fall would seem slow: only about a swing's top does a racket strike. A weaker swing some
// seconds off has its own top.
func TestARacketStrikesAtItsSwingsTop(t *testing.T) {
	bump := func(t, at, top, wide float64) float64 { return top * math.Exp(-(t-at)*(t-at)/(2*wide*wide)) }
	w := &ballWatch{speed: func(t float64) float64 {
		return 0.3 + bump(t, 2.0, 3.9, 0.10) + bump(t, 3.0, 6.0, 0.08) + bump(t, 8.0, 3.6, 0.08)
	}}
	for k := range 600 {
		at := float64(k) / 60
		w.at, w.v = append(w.at, at), append(w.v, w.speed(at))
	}
	q := quantile(w.v, 0.995)
	w.fast, w.reach = swungShare*q, 0.4/(swungShare*q)
	struck := func(t float64) bool { return w.swungAbout(t, w.strikeSpeed(t)) }
	for _, c := range []struct {
		name string
		at   float64
		want bool
	}{
		{"the take-back, a second before", 2.0, false},
		{"the impact, just after the top", 3.03, true},
		{"the follow-through", 3.35, false},
		{"the impact of the weaker swing", 8.03, true},
		{"at rest", 5.5, false},
	} {
		if got := struck(c.at); got != c.want {
			t.Errorf("%s: struck %v, want %v (%.1f m/s, asked %.1f)", c.name, got, c.want, w.speed(c.at), w.strikeSpeed(c.at))
		}
	}
	if !w.swungAbout(2.0, w.fast) {
		t.Error("the take-back is no swing by half the clip's top: the case proves nothing")
	}
}
