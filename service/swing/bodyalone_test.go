package swing

import (
	"math"
	"testing"
)

// bump is a smooth rise and fall of unit height about an instant.
func bump(t, at, half float64) float64 {
	x := (t - at) / half
	return math.Exp(-x * x)
}

// turnAt is one turn of a chest and the hand that goes with it: when it is fastest, s, the
// hand's speed, m/s, and the chest's rate, deg/s.
type turnAt struct{ at, hand, rate, half float64 }

// closings runs a detector over a body alone that makes some turns, and returns when the
// bursts that pass for swings have their peaks, seconds.
func closings(turns []turnAt, until float64) (peaks []float64) {
	r := newRing(newRows(false))
	d := newDetector(&Setup{}, r, 1)
	d.view.world = true
	facing := 0.0
	for i := range int(until * 60) {
		t := float64(i) / 60
		s := sample{timeUS: int64(t * 1e6), racket: -1, world: true, ok: true, blur: 2}
		v, rate := 0.5, 0.0
		for _, m := range turns {
			v += m.hand * bump(t, m.at, m.half)
			rate += m.rate * bump(t, m.at, m.half)
		}
		facing += rate / 60
		s.hand[right], s.free[right], s.high[right] = float32(v), float32(v), 0.3
		s.turn, s.facing = float32(rate), float32(math.Remainder(facing, 360))
		d.take(s)
		if _, over := d.due(s.timeUS); over {
			if j := d.judge(); j.swing { // nothing before its end is read again
				peaks = append(peaks, float64(d.b.peakUS)*1e-6)
				d.trail, d.from = d.trail[:0], s.timeUS
			}
			d.b = burst{}
		}
	}
	return peaks
}

func TestAStrokeOutdoesItsTakeBackAndItsRecovery(t *testing.T) {
	for name, c := range map[string]struct {
		turns []turnAt
		want  float64
	}{
		"a take-back as fast as noise makes it":   {[]turnAt{{2, 6, -420, 0.12}, {2.6, 5.8, 450, 0.12}, {3.7, 2, -120, 0.3}}, 2.6},
		"a long pause after it":                   {[]turnAt{{2, 5.2, -380, 0.12}, {3.1, 5.5, 420, 0.12}, {4.3, 2, -120, 0.3}}, 3.1},
		"a short wind-up, then a recovery":        {[]turnAt{{2, 1.8, -150, 0.12}, {2.5, 6.2, 400, 0.12}, {3.3, 2.2, -180, 0.2}}, 2.5},
		"a stroke from far, a quick way back":     {[]turnAt{{2, 2.5, -300, 0.15}, {2.7, 5.5, 400, 0.12}, {3.5, 3.4, -220, 0.2}}, 2.7},
		"a forehand, seen from the other side":    {[]turnAt{{2, 6, 420, 0.12}, {2.6, 5.8, -450, 0.12}, {3.7, 2, 120, 0.3}}, 2.6},
		"a volley of the arm out of a short turn": {[]turnAt{{2, 1.5, -300, 0.1}, {2.5, 5, 140, 0.1}}, 2.5},
	} {
		got := closings(c.turns, 6)
		if len(got) != 1 || math.Abs(got[0]-c.want) > 0.06 {
			t.Errorf("%s: swings at %.2f s, want one at %.2f", name, got, c.want)
		}
	}
}

func TestNoChestSpeedsUpFromRest(t *testing.T) {
	for name, c := range map[string]struct {
		v    verdict
		want bool
	}{
		"somebody else in the player's place":            {verdict{hand: 9.6, turn: 913, wind: 20}, true},
		"a jump of the hands alone":                      {verdict{hand: 10.8, turn: 287, wind: 18}, true},
		"a chest whose wind-up was not seen":             {verdict{hand: 5, turn: 600, wind: math.NaN()}, false},
		"the hardest recorded forehand (8.8 m/s, 64°)":   {verdict{hand: 8.8, turn: 541, wind: 64}, false},
		"a recorded forehand out of a short wind-up":     {verdict{hand: 5.7, turn: 386, wind: 24}, false},
		"a recorded two-handed backhand, its chest fast": {verdict{hand: 6.5, turn: 650, wind: 61}, false},
	} {
		if got := c.v.impossible(); got != c.want {
			t.Errorf("%s: impossible %v, want %v", name, got, c.want)
		}
	}
}

// TestTheHandGoesWhereTheChestFaced: a right-handed player faces a net at −x of a camera's
// axes, then turns away and back. The chest's line lies along +z then: facing 90 degrees.
func TestTheHandGoesWhereTheChestFaced(t *testing.T) {
	for name, c := range map[string]struct {
		wind, by   float64    // deg: turned away, and back again
		flow       [2]float64 // m/s, along x and z
		high, rise float64
		want       headed
	}{
		"a volley":                          {60, 25, [2]float64{-2.5, 0.5}, 0.3, 0, forward},
		"across":                            {60, 25, [2]float64{-1, 2.4}, 0.3, 0, unknown},
		"forward, the chest still far":      {110, 30, [2]float64{-2.5, 0.5}, 0.3, 0, unknown},
		"a take-back":                       {18, 60, [2]float64{4, 3}, 0.3, 0, away},
		"back after a chest wound up far":   {100, 30, [2]float64{2.5, 1}, 0.3, 0, unknown},
		"mostly up":                         {60, 25, [2]float64{-1, 0}, 0.3, 2.5, unknown},
		"a ground stroke, the chest square": {100, 90, [2]float64{-5, 2}, 0.3, 1, forward},
	} {
		d := newDetector(&Setup{}, newRing(newRows(false)), 1)
		facing := 90.0
		step := func(turn float64, moving bool) {
			s := sample{timeUS: int64(len(d.trail)) * 16_667, racket: -1, world: true, ok: true, turn: float32(turn)}
			facing += turn / 60
			s.facing = float32(math.Remainder(facing, 360))
			if moving {
				s.flow[right] = [2]float32{float32(c.flow[0]), float32(c.flow[1])}
				s.rise[right] = float32(c.rise)
				s.hand[right] = float32(math.Sqrt(c.flow[0]*c.flow[0] + c.flow[1]*c.flow[1] + c.rise*c.rise))
			}
			s.high[right] = float32(c.high)
			d.trail = append(d.trail, s)
		}
		for range 12 {
			step(0, false)
		}
		for range 20 {
			step(-c.wind*3, false)
		}
		for range 12 {
			step(c.by*5, true)
		}
		d.b.on, d.b.peakUS = true, d.trail[len(d.trail)-1].timeUS
		if got := d.heading(); got != c.want {
			t.Errorf("%s: goes %d, want %d", name, got, c.want)
		}
	}
}

func TestAChestThatComesBackFromTooFarRecovers(t *testing.T) {
	const perRate = 1.7725 // √π: degrees turned over rate × half
	for name, c := range map[string]struct {
		wound float64 // deg
		want  int
	}{"a stroke": {100, 1}, "a recovery": {200, 0}} {
		got := closings([]turnAt{{2, 1.5, -c.wound / (0.25 * perRate), 0.25}, {2.9, 3.4, 300, 0.2}}, 6)
		if len(got) != c.want {
			t.Errorf("%s from %g degrees: swings at %.2f s, want %d", name, c.wound, got, c.want)
		}
	}
}

// TestASmashOutdoesTheTakingUp: a fast hand goes away from the net (at −x, see above) as the
// chest winds up, then a slower one comes over the head.
func TestASmashOutdoesTheTakingUp(t *testing.T) {
	for name, c := range map[string]struct {
		wind, by float64 // deg: turned one way before, and the other way since
		flow     float64 // m/s along x
		high     float64 // m: the rival's hand
		want     bool
	}{
		"a smash":                          {0, 80, 4, 0.9, true},
		"a hand under the shoulders":       {0, 80, 4, 0.4, false},
		"after a stroke over the head":     {60, 80, 4, 0.9, false},
		"after a hand to the net":          {0, 80, -4, 0.9, false},
		"after a chest that hardly turned": {0, 20, 4, 0.9, false},
	} {
		d := newDetector(&Setup{}, newRing(newRows(false)), 1)
		facing := 90.0
		step := func(turn, along, high float64) {
			s := sample{timeUS: int64(len(d.trail)) * 16_667, racket: -1, world: true, ok: true, turn: float32(turn)}
			facing += turn / 60
			s.facing = float32(math.Remainder(facing, 360))
			s.flow[right] = [2]float32{float32(along), 0}
			s.hand[right], s.high[right] = float32(math.Abs(along)), float32(high)
			d.trail = append(d.trail, s)
		}
		for range 12 {
			step(0, 0, 0.3)
		}
		for range 20 {
			step(-c.wind*3, 0, 0.3)
		}
		for range 12 {
			step(c.by*5, c.flow, 0.5)
		}
		d.b.on, d.b.peakUS, d.b.force = true, d.trail[len(d.trail)-1].timeUS, d.force()
		for range 30 {
			step(0, 0, 0.5)
		}
		step(-c.by*5, 0.45*c.flow, c.high)
		if f := d.force(); f >= d.b.force {
			t.Fatalf("%s: a force of %.1f outdoes %.1f anyhow", name, f, d.b.force)
		}
		if got := d.outdone(); got != c.want {
			t.Errorf("%s: outdone %v, want %v (force %.1f of %.1f, takes up %v)", name, got, c.want, d.force(), d.b.force, d.takesUp())
		}
	}
}
