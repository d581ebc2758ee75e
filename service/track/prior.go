package track

import "math"

// rough is how rough a motion may be: the density of the white jerk that
// drives it, as a function of the time from impact, and the jump in velocity
// that impact may give it.
type rough struct {
	level float64 // jerk density at its highest, near impact, (m/s³)²·s or (rad/s³)²·s
	width float64 // s: how long before impact the motion stays rough (sd of a bell); after impact 0.8 of it
	floor float64 // share of level while the player waits, in (0, 1]
	jump  float64 // sd of the velocity jump at impact, m/s or rad/s
	// keep is the share of its velocity that impact leaves, ± kept m/s; 0: not said.
	keep, kept float64
}

// scaled returns the same motion in a unit of which scale make a metre.
func (r rough) scaled(scale float64) rough {
	r.level *= scale * scale
	r.jump *= scale
	r.kept *= scale
	return r
}

// density returns the jerk density at dt seconds from impact. The bell rises
// over the forward swing and falls over the follow-through.
func (r rough) density(dt float64) float64 {
	width := r.width
	if dt > 0 {
		width *= 0.8 // the racket is caught sooner than it was swung
	}
	bell := math.Exp(-0.5 * (dt / width) * (dt / width))
	return r.level * math.Max(r.floor, bell)
}

// smoothness appends the prior of coordinate k of d: the third divided
// difference over each four nodes is zero with the variance of white jerk over
// their stretch, widened across impact by the jump.
func (g *grid) smoothness(out *rows, d, k int, r rough) {
	for i := 0; i+3 < len(g.t); i++ {
		w, weight := g.jerkRow(i, r)
		for j := range 4 {
			out.entry((i+j)*d+k, w[j])
		}
		out.end(0, weight)
	}
}

// impactRow appends that impact leaves the share keep of a velocity.
func (g *grid) impactRow(out *rows, r rough) {
	b := g.brk
	if r.keep == 0 || b < 2 || b+2 >= len(g.t) {
		return
	}
	before, after := edgeSlope(g.t[b-2:b+1], 2), edgeSlope(g.t[b:b+3], 0)
	out.entry(b-2, -r.keep*before[0])
	out.entry(b-1, -r.keep*before[1])
	out.entry(b, after[0]-r.keep*before[2])
	out.entry(b+1, after[1])
	out.entry(b+2, after[2])
	out.end(0, 1/(r.kept*r.kept))
}

// edgeSlope returns the weights of the first derivative at node at of the
// parabola through three nodes.
func edgeSlope(x []float64, at int) (w [3]float64) {
	for i := range 3 {
		den, num := 1.0, 0.0
		for j := range 3 {
			if j == i {
				continue
			}
			den *= x[i] - x[j]
			k := 3 - i - j
			num += x[at] - x[k]
		}
		w[i] = num / den
	}
	return w
}

// jerkRow returns the stencil of the third derivative over nodes i … i+3 and
// its weight.
func (g *grid) jerkRow(i int, r rough) (w [4]float64, weight float64) {
	x := g.t[i : i+4]
	w = jerk(x)
	mid, span := (x[1]+x[2])/2, (x[3]-x[0])/3
	if g.brk < 0 {
		return w, span / r.density(mid)
	}
	variance := r.density(mid-g.t[g.brk]) / span
	if i < g.brk && g.brk < i+3 {
		// A kink of Δv at an inner node shows as a third difference of Δv/h².
		s := r.jump / (span * span)
		variance += s * s
	}
	return w, 1 / variance
}
