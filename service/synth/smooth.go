package synth

import "math"

// step7 is the smooth step x⁴(35 − 84x + 70x² − 20x³) on [0, 1], held outside: 0 before,
// 1 after; three derivatives vanish at both ends. Peak rate 35/16 at x = ½.
func step7(x float64) float64 {
	if x <= 0 {
		return 0
	}
	if x >= 1 {
		return 1
	}
	return x * x * x * x * (35 + x*(-84+x*(70-20*x)))
}

// step7Integral is ∫₀ˣ step7.
func step7Integral(x float64) float64 {
	if x <= 0 {
		return 0
	}
	if x >= 1 {
		return 0.5 + x - 1
	}
	x5 := x * x * x * x * x
	return x5 * (7 + x*(-14+x*(10-2.5*x)))
}

// move is one smooth change of a coordinate by size, from start over span
// seconds. skew in (−1, 1) moves the fastest instant: > 0 earlier.
type move struct {
	start, span, size, skew float64
}

func (m move) at(t float64) float64 {
	x := (t - m.start) / m.span
	if x <= 0 {
		return 0
	}
	if x >= 1 {
		return m.size
	}
	return m.size * step7(x+m.skew*x*(1-x))
}

// blow is what an impact takes from a coordinate: the rate falls by loss over
// rise seconds from time (at once when rise is 0), and is regained smoothly over
// the following hold seconds.
type blow struct {
	time, loss, rise, hold float64
}

func (b blow) at(t float64) float64 {
	d := t - b.time
	if d <= 0 {
		return 0
	}
	fall := d - b.rise/2
	if d < b.rise {
		fall = d * d / (2 * b.rise)
	}
	return -b.loss * (fall - b.hold*step7Integral(d/b.hold))
}

// end is the lasting displacement that the blow leaves.
func (b blow) end() float64 { return -b.loss * (b.hold - b.rise) / 2 }

// hop is a stretch of free flight: a parabola of gravity that rises to height at
// time top, its foot rounded so that lift-off and landing take some milliseconds:
// soft·ln(1 + exp(z/soft)) with z = height − g (t − top)²/2.
type hop struct{ top, height, soft, sign float64 }

func (h hop) at(t float64) float64 {
	d := t - h.top
	z := (h.height - gravity*d*d/2) / h.soft
	if z < -40 {
		return 0
	}
	if z > 40 {
		return h.sign * h.soft * z
	}
	return h.sign * h.soft * math.Log1p(math.Exp(z))
}

// over is when the hop is surely past: z < −40.
func (h hop) over() float64 { return h.top + math.Sqrt(2*(h.height+40*h.soft)/gravity) }

// wave is a lasting small sway: what keeps a living body from standing still.
type wave struct{ size, rate, phase float64 }

func (w wave) at(t float64) float64 { return w.size * math.Sin(w.rate*t+w.phase) }

// along writes the wave at the truth's instants, fineStep apart (or none), to out: turned on
// from one to the next, and anew now and then.
func (w wave) along(t, out []float64) []float64 {
	const anew = 256
	out = out[:0]
	ds, dc := math.Sincos(w.rate * fineStep)
	var s, c float64
	for n := range t {
		switch {
		case n%anew == 0:
			s, c = math.Sincos(w.rate*t[n] + w.phase)
		case t[n] != t[n-1]:
			s, c = s*dc+c*ds, c*dc-s*ds
		}
		out = append(out, w.size*s)
	}
	return out
}

// course is one joint coordinate over time: a start value, moves, blows and waves.
type course struct {
	base  float64
	goal  float64 // value after all moves and blows so far, waves apart
	moves []move
	blows []blow
	waves []wave
	hops  []hop
}

func (c *course) set(v float64) { c.base, c.goal = v, v }

// to moves the coordinate smoothly to v between t0 and t1.
func (c *course) to(t0, t1, v, skew float64) {
	c.moves = append(c.moves, move{t0, t1 - t0, v - c.goal, skew})
	c.goal = v
}

// unwind takes whole turns off an azimuth, all along: it stays where it is, and a move to
// an azimuth does not go around. A serve turns the arm once.
func (c *course) unwind() {
	turns := wholeTurns(c.goal)
	c.base, c.goal = c.base-turns, c.goal-turns
}

// bump lifts the coordinate by size and lets it return, between t0 and t1.
func (c *course) bump(t0, t1, size float64) {
	mid := (t0 + t1) / 2
	c.moves = append(c.moves, move{t0, mid - t0, size, 0}, move{mid, t1 - mid, -size, 0})
}

func (c *course) strike(b blow) {
	c.blows = append(c.blows, b)
	c.goal += b.end()
}

func (c *course) at(t float64) float64 {
	v := c.base
	for i := range c.moves {
		v += c.moves[i].at(t)
	}
	for i := range c.blows {
		v += c.blows[i].at(t)
	}
	for i := range c.hops {
		v += c.hops[i].at(t)
	}
	for i := range c.waves {
		v += c.waves[i].at(t)
	}
	return v
}

// rateBefore is the coordinate's rate just before t, by a one-sided difference.
func (c *course) rateBefore(t float64) float64 {
	const h = 1e-4
	return (3*c.at(t) - 4*c.at(t-h) + c.at(t-2*h)) / (2 * h)
}

// within eases a length d into (−∞, high): itself up to low, then bending
// toward high without a break in four derivatives: low + w·x/(1+x⁴)^¼ with w = high − low.
func within(d, low, high float64) float64 {
	if d <= low {
		return d
	}
	w := high - low
	x := (d - low) / w
	return low + w*x/math.Pow(1+x*x*x*x, 0.25)
}
