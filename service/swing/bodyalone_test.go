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
// bursts that pass for swings have their peaks, seconds. The hand goes to where the chest faced at
// first with turns of the sign of ahead, and away from there with others.
func closings(turns []turnAt, ahead, until float64) (peaks []float64) {
	r := newRing(newRows(false))
	d := newDetector(&Setup{}, r, 1)
	d.view.world = true
	facing := 0.0
	for i := range int(until * 60) {
		t := float64(i) / 60
		s := sample{timeUS: int64(t * 1e6), racket: -1, world: true, ok: true, blur: 2}
		v, rate, flow := 0.5, 0.0, 0.0
		for _, m := range turns {
			v += m.hand * bump(t, m.at, m.half)
			rate += m.rate * bump(t, m.at, m.half)
			flow += math.Copysign(m.hand, m.rate*ahead) * bump(t, m.at, m.half)
		}
		facing += rate / 60
		s.hand[right], s.free[right], s.high[right] = float32(v), float32(v), 0.3
		s.turn, s.facing = float32(rate), float32(math.Remainder(facing, 360))
		s.wide[right][1] = float32(flow)
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
		ahead := 0.0
		for _, m := range c.turns {
			if m.at == c.want {
				ahead = m.rate
			}
		}
		got := closings(c.turns, ahead, 6)
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
		got := closings([]turnAt{{2, 1.5, -c.wound / (0.25 * perRate), 0.25}, {2.9, 3.4, 300, 0.2}}, 1, 6)
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

// TestAShortVolleyShowsInHandAndChestTogether: a hand of 2.3 m/s before a chest that turns as slowly as
// noise makes it is a volley if it goes to where the chest faced, out of a wind-up, the other hand at rest.
func TestAShortVolleyShowsInHandAndChestTogether(t *testing.T) {
	type volley struct {
		wind, by     float64 // deg: turned away, and back again
		ahead, aside float64 // m/s
		other        float64 // m/s: the other hand's
		high         float64 // m
	}
	for name, c := range map[string]struct {
		v    volley
		want bool
	}{
		"a volley":                   {volley{60, 18, 2.3, 0.3, 0.9, 0.3}, true},
		"a faster one, hardly wound": {volley{26, 18, 4.5, 0.3, 0.6, 0.3}, true},
		"across":                     {volley{40, 18, 0.3, 2.1, 0.9, 0.3}, false},
		"backwards":                  {volley{60, 18, -2.3, 0.3, 0.6, 0.3}, false},
		"across, both hands alike":   {volley{60, 18, 0.3, 2, 2, 0.3}, false},
		"nothing wound up":           {volley{10, 8, 2.3, 0.3, 0.6, 0.3}, false},
		"a slow hand that hangs":     {volley{40, 18, 1.9, 0.3, 0.9, 0.0}, false},
		"a chest that stays turned":  {volley{60, 0, 2.3, 0.3, 0.9, 0.3}, false},
		"a walk":                     {volley{20, 10, 1.5, 0.2, 1.4, 0.05}, false},
	} {
		d := newDetector(&Setup{}, newRing(newRows(false)), 1)
		facing := 0.0
		step := func(turn, ahead, aside, other float64) {
			s := sample{timeUS: int64(len(d.trail)) * 16_667, racket: -1, world: true, ok: true, turn: float32(turn)}
			facing += turn / 60
			s.facing = float32(facing)
			s.wide[right] = [3]float32{float32(aside), float32(ahead)}
			s.wide[left] = [3]float32{float32(other)}
			s.high[right], s.high[left] = float32(c.v.high), float32(c.v.high)
			d.trail = append(d.trail, s)
		}
		for range 20 {
			step(0, 0, 0, 0)
		}
		for range 30 {
			step(-c.v.wind*2, -0.5, 0, 0)
		}
		for range 10 {
			step(c.v.by*6, c.v.ahead, c.v.aside, c.v.other)
		}
		x := d.odds(len(d.trail) - 1)
		if (x >= strokeOdds) != c.want {
			t.Errorf("%s: log-odds %.1f, a stroke from %.1f on: want %v", name, x, strokeOdds, c.want)
		}
	}
}
