package track

import (
	"math"
	"slices"

	"example.com/courtkin/service/geom"
)

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
	rings      bool // the jump wears off within ringTime
}

// ringTime is how soon a jump wears off, seconds. Strings hold the ball for up to 5 ms
// (literature.md 4.2), so that what the model gives in an instant comes over that time and
// not quite at the break; and the wrist, a spring with the racket on it, brings back part of
// what the blow took, within 20 to 30 ms. Held as smooth as before, the motion after impact
// would be drawn straight through that, start beside where it did, and by that bend the motion
// before it. A jump Δ lost and regained is a jerk of Δ/T² for T: a density of Δ²/T³.
const ringTime = 0.015

// ring is the density that the jump adds at dt seconds after impact.
func (r *rough) ring(dt float64) float64 {
	x := dt / ringTime
	return r.jump * r.jump / (ringTime * ringTime * ringTime) * math.Exp(-0.5*x*x)
}

// scaled returns the same motion in a unit of which scale make a metre.
func (r rough) scaled(scale float64) rough {
	r.level *= scale * scale
	r.jump *= scale
	r.kept *= scale
	return r
}

// density returns the jerk density at dt seconds from impact.
func (r rough) density(dt float64) float64 { return r.raised(bellAt(dt, r.width)) }

// raised returns the jerk density where the bell has a height.
func (r *rough) raised(bell float64) float64 {
	if r.floor >= 1 {
		return r.level
	}
	return r.level * max(r.floor, bell)
}

// bellAt is the bell at dt seconds from impact: it rises over the forward swing and falls
// over the follow-through.
func bellAt(dt, width float64) float64 {
	if dt > 0 {
		width *= 0.8 // the racket is caught sooner than it was swung
	}
	x := dt / width
	return math.Exp(-0.5 * x * x)
}

// bell is the heights of a bell of some width at the middles of the stencils.
type bell struct {
	width float64
	at    []float64
}

// bell returns the heights of a bell, which are the same in every solve on the grid.
func (g *grid) bell(width float64) []float64 {
	for i := range g.bells {
		if g.bells[i].width == width {
			return g.bells[i].at
		}
	}
	b := bell{width, make([]float64, len(g.inv))}
	for i := range b.at {
		b.at[i] = bellAt(g.fromBreak((g.t[i+1]+g.t[i+2])/2), width)
	}
	g.bells = append(g.bells, b)
	return b.at
}

// jerkWeights returns the prior of one coordinate: the third divided difference
// over each four nodes is zero with the variance of white jerk over their
// stretch, widened across impact by the jump. Its weights, 1/variance, go to out.
//
// bursts, when not nil, holds a factor on the density for each stencil.
func (g *grid) jerkWeights(out []float64, r rough, bursts []float64) []float64 {
	out = slices.Grow(out[:0], len(g.inv))
	bell := g.bell(r.width)
	for i := range g.inv {
		weight := g.jerkWeight(i, &r, bell)
		if bursts != nil {
			weight /= bursts[i]
		}
		out = append(out, weight)
	}
	return out
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

// A motion is not equally rough all the time: a knee rests, bends and springs
// back. Where the smoothed motion itself jerks more over burstReach seconds to
// each side than white jerk of the usual density would, the density is raised
// to what is seen there, so that the peak is not smoothed away.
const (
	burstReach = 0.06 // s: about the response time of the smoother in its coarsest use
	burstMost  = 300.0
)

// bursts writes to out the factor on the density of each stencil for a path at the nodes,
// which moves along the given number of axes.
func (g *grid) bursts(out []float64, mean []geom.Vec3, r rough, axes float64) []float64 {
	n := len(g.t) - 3
	if len(g.jerked) < n+1 {
		g.jerked = make([]geom.Vec3, n+1)
	}
	sum := g.jerked // ∫ jerk dt up to stencil i
	for i := range n {
		w := g.jerk(i)
		span := g.spans[i]
		j := combine(mean[i:i+4], w)
		if g.brk > i && g.brk < i+3 {
			j = geom.Vec3{} // impact's own kink is no burst
		}
		sum[i+1] = sum[i].Add(j.Scale(span))
	}
	out = slices.Grow(out[:0], n)[:n]
	bell := g.bell(r.width)
	reach := g.reaches()
	for i := range n {
		lo, hi := reach[i][0], reach[i][1]
		// The change of acceleration over the reach; white jerk gives it the
		// variance density × time on each axis.
		a := sum[hi+1].Sub(sum[lo])
		usual := r.raised(bell[i]) * (g.t[hi+2] - g.t[lo+1])
		out[i] = min(burstMost, max(1, a.Dot(a)/(axes*usual)))
	}
	return out
}

// reaches returns for each stencil the first and the last one within burstReach of it.
func (g *grid) reaches() [][2]int {
	if g.burst != nil {
		return g.burst
	}
	n := len(g.inv)
	g.burst = make([][2]int, n)
	lo, hi := 0, 0
	for i := range n {
		at := (g.t[i+1] + g.t[i+2]) / 2
		for lo < i && g.t[lo+1] < at-burstReach {
			lo++
		}
		for hi < n-1 && g.t[hi+2] < at+burstReach {
			hi++
		}
		g.burst[i] = [2]int{lo, hi}
	}
	return g.burst
}

// fromBreak is the time from impact; from the middle without a break.
func (g *grid) fromBreak(t float64) float64 {
	if g.brk < 0 {
		return t
	}
	return t - g.t[g.brk]
}

// jerkWeight returns the weight of the third derivative over nodes i … i+3, bell being the
// motion's at the stencils.
func (g *grid) jerkWeight(i int, r *rough, bell []float64) float64 {
	span := g.spans[i]
	density := r.raised(bell[i])
	if r.rings && g.brk >= 0 && i >= g.brk {
		density += r.ring(g.t[i+1] - g.t[g.brk])
	}
	variance := density / span
	if i < g.brk && g.brk < i+3 {
		// A kink of Δv at an inner node shows as a third difference of Δv/h².
		s := r.jump / (span * span)
		variance += s * s
	}
	return 1 / variance
}
