package track

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/body"
)

// chain is the posterior over a part's signs in the whole window: forward sums over
// pairs of choices at neighbouring nodes. Draws run backward through it (forward
// filtering, backward sampling: Carter & Kohn 1994, Biometrika 81:541–553).
type chain struct {
	w    *fourWays
	near []int       // the choices nearest the solution
	last [16]float64 // log forward sums at the last two nodes, by choice at either
	// from holds, for the choices k and m at nodes i−1 and i, how likely each choice at
	// node i−2 is before them: running sums, not normalised.
	from [][4][4][4]float64
	move func(q []float64, d, from [2]float64)
}

// signHeat divides the log likelihoods of signs: beliefs about posture are no
// independent measurements. Chosen so that stated intervals hold the truth as
// often as they say; see the coverage in the tests.
const signHeat = 2.0

// turns are the costs of going from choice j at node i−2 by k to m at node i, by k, m, j.
func (l *lift) turns(w *fourWays, i int, out *[4][4][4]float64) {
	h1, h2 := l.t[i-1]-l.t[i-2], l.t[i]-l.t[i-1]
	f := h2 / h1
	size := 1 / (w.accel*h2*(h1+h2)/2 + depthNoise*(1+f))
	here := &w.depth[i]
	for k := range 4 {
		b := &w.depth[i-1][k]
		for j := range 4 {
			a := &w.depth[i-2][j]
			x0, x1 := b[0]+f*(b[0]-a[0]), b[1]+f*(b[1]-a[1]) // where an even motion leads
			for m := range 4 {
				d0, d1 := (here[m][0]-x0)*size, (here[m][1]-x1)*size
				out[k][m][j] = math.Min(d0*d0, 30) + math.Min(d1*d1, 30)
			}
		}
	}
	if w.cross != nil {
		w.turnAcross(i, f, size, out)
	}
}

// turnAcross is turns where signs may change because the segment lies across the view: the
// step in which one does costs that, and tells nothing of how fast the depth goes on.
func (w *fourWays) turnAcross(i int, f, size float64, out *[4][4][4]float64) {
	for k := range 4 {
		for j := range 4 {
			for m := range 4 {
				sum := 0.0
				for d := range 2 {
					a, b, c := w.depth[i-2][j][d], w.depth[i-1][k][d], w.depth[i][m][d]
					x := (c - b - f*(b-a)) * size
					cost := math.Min(x*x, 30)
					bit := 1 << d
					if (j^k)&bit != 0 {
						x = (c - b) * size
						cost = math.Min(cost, x*x)
					}
					if (k^m)&bit != 0 {
						cost = math.Min(cost, math.Min(w.cross[i-1][d], w.cross[i][d]))
					}
					sum += cost
				}
				out[k][m][j] = sum
			}
		}
	}
}

// newChain sums forward.
func (l *lift) newChain(w *fourWays, near []int, move func(q []float64, d, from [2]float64)) *chain {
	n := len(l.t)
	c := &chain{w: w, near: near, move: move, from: make([][4][4][4]float64, n)}
	const scale = 0.5 / signHeat
	var f, next [4][4]float64 // log forward sums, by choice at the node before and at the node
	for j := range 4 {
		for k := range 4 {
			f[j][k] = -scale * (w.cost[0][j] + w.cost[1][k])
		}
	}
	var turns [4][4][4]float64
	for i := 2; i < n; i++ {
		l.turns(w, i, &turns)
		for k := range 4 {
			for m := range 4 {
				var v [4]float64
				for j := range 4 {
					v[j] = f[j][k] - scale*turns[k][m][j]
				}
				next[k][m] = runningSum(&v) - scale*w.cost[i][m]
				c.from[i][k][m] = v
			}
		}
		f = next
	}
	for k := range c.last {
		c.last[k] = f[k/4][k%4]
	}
	return c
}

// runningSum replaces log weights by the running sum of the weights over the largest, and
// returns the logarithm of the whole sum.
func runningSum(v *[4]float64) float64 {
	top := math.Max(math.Max(v[0], v[1]), math.Max(v[2], v[3]))
	s := 0.0
	for i, x := range v {
		if x > top-30 {
			s += math.Exp(x - top)
		}
		v[i] = s
	}
	return top + math.Log(s)
}

// pick draws an index by log weights, at most 16.
func pick(v []float64, rng *rand.Rand) int {
	top := math.Inf(-1)
	for _, x := range v {
		top = math.Max(top, x)
	}
	sum := 0.0
	var p [16]float64
	for i, x := range v {
		p[i] = math.Exp(x - top)
		sum += p[i]
	}
	u := rng.Float64() * sum
	for i := range v {
		if u -= p[i]; u < 0 {
			return i
		}
	}
	return len(v) - 1
}

// add draws a course of signs and adds what it moves to the distances' errors.
func (c *chain) add(errs []float64, rng *rand.Rand) {
	x := pick(c.last[:], rng)
	k, m := x/4, x%4
	for i := len(c.from) - 1; ; i-- {
		if m != c.near[i] {
			c.move(errs[i*liftJoints:(i+1)*liftJoints], c.w.depth[i][m], c.w.depth[i][c.near[i]])
		}
		if i == 0 {
			return
		}
		if i == 1 {
			k, m = 0, k
			continue
		}
		sums := &c.from[i][k][m]
		u, j := rng.Float64()*sums[3], 0
		for j < 3 && sums[j] <= u {
			j++
		}
		k, m = j, k
	}
}

// nearest is the choice at each node nearest the present solution.
func (w *fourWays) nearest(of func(i int) [2]float64) []int {
	out := make([]int, len(w.cost))
	for i := range out {
		at, best := of(i), math.Inf(1)
		for k := range 4 {
			d0, d1 := w.depth[i][k][0]-at[0], w.depth[i][k][1]-at[1]
			if d := d0*d0 + d1*d1; d < best {
				best, out[i] = d, k
			}
		}
	}
	return out
}

// part is one whose signs are chosen together: the ways it may tilt about the present
// solution, the choice at each node nearest to it, and what going to another choice moves.
type part struct {
	ways *fourWays
	near []int
	move func(q []float64, d, from [2]float64)
}

func (l *lift) lamAt(i int, p body.Point) float64 { return l.lam[i*liftJoints+int(p)] }

// trunkPart is shoulders and hips: the arms go with the shoulders.
func (l *lift) trunkPart() part {
	w := l.trunkWays()
	near := w.nearest(func(i int) [2]float64 {
		return [2]float64{l.lamAt(i, rsh) - l.lamAt(i, lsh), l.lamAt(i, rhp) - l.lamAt(i, lhp)}
	})
	return part{w, near, func(q []float64, d, from [2]float64) {
		s, h := (d[0]-from[0])/2, (d[1]-from[1])/2
		for k := range body.Point(3) { // shoulder, elbow, wrist
			q[lsh+2*k] -= s
			q[rsh+2*k] += s
		}
		q[lhp] -= h
		q[rhp] += h
		q[body.LeftKnee] -= h / 2
		q[body.RightKnee] += h / 2
	}}
}

// limbPart is a limb; false where it is not seen.
func (l *lift) limbPart(b *limb) (part, bool) {
	if !l.seen[b.joint] || !l.seen[b.end] {
		return part{}, false
	}
	w := l.limbWays(b)
	near := w.nearest(func(i int) [2]float64 {
		return [2]float64{l.lamAt(i, b.joint) - l.lamAt(i, b.root), l.lamAt(i, b.end) - l.lamAt(i, b.root)}
	})
	return part{w, near, func(q []float64, d, from [2]float64) {
		q[b.joint] += d[0] - from[0]
		q[b.end] += d[1] - from[1]
	}}, true
}

// chains are the posteriors over the signs of trunk and limbs about the present solution.
func (l *lift) chains() (out []*chain) {
	t := l.trunkPart()
	t.ways.cross = nil
	out = append(out, l.newChain(t.ways, t.near, t.move))
	for b := range limbs {
		if p, ok := l.limbPart(&limbs[b]); ok {
			out = append(out, l.newChain(p.ways, p.near, p.move))
		}
	}
	return out
}

// repick chooses the trunk's signs again, now that the lengths are known: with shoulders
// believed wider than they are none seems to lie across the view as it turns through, so
// that a turn past the line of sight's normal looks like one that stops short of it.
func (l *lift) repick() (changed bool) {
	t := l.trunkPart()
	for i, k := range l.even(t.ways) {
		if n := t.near[i]; k != n {
			t.move(l.lam[i*liftJoints:(i+1)*liftJoints], t.ways.depth[i][k], t.ways.depth[i][n])
			changed = true
		}
	}
	return changed
}
