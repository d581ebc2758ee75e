package track

import (
	"math"
	"slices"
	"sort"

	"example.com/courtkin/service/geom"
)

// grid is a rising list of instants at which motion is solved. The instant of
// impact is one node, at brk; stencils never reach across it. Without a break
// brk is −1.
type grid struct {
	t   []float64 // seconds
	brk int       // index of the impact node, or −1
	// inv holds, for each four nodes from i on, the inverses of Π (x_j − x_k), k ≠ j:
	// what cubic interpolation and third differences divide by.
	inv   [][4]float64
	spans []float64 // a third of the time that they span, seconds
	bells []bell    // those that were asked for
	fades []fades   // likewise

	burst  [][2]int    // of reaches, once asked for
	jerked []geom.Vec3 // scratch of bursts; its first stays zero
}

// measure sets what follows from the nodes.
func (g *grid) measure() *grid {
	g.inv = make([][4]float64, max(0, len(g.t)-3))
	g.spans = make([]float64, len(g.inv))
	for i := range g.inv {
		g.inv[i] = inverses(g.t[i : i+4])
		g.spans[i] = (g.t[i+3] - g.t[i]) / 3
	}
	return g
}

func inverses(x []float64) (w [4]float64) {
	for i := range 4 {
		d := 1.0
		for j := range 4 {
			if j != i {
				d *= x[i] - x[j]
			}
		}
		w[i] = 1 / d
	}
	return w
}

// step is a node spacing up to a distance from impact, seconds.
type step struct{ before, after, step float64 }

// solveSteps is the node spacing of the motion as it is solved, by distance from
// impact. Joints change their acceleration in 20 ms at the quickest, and a racket at
// 40 rad/s turns by 0.5 rad a node: cubics follow both to a thousandth. The coarse
// spacing still resolves 10 Hz, above what trunk and legs do while a player waits
// (literature.md 5.1, typical cutoffs). Halving it changes no figure on made swings by
// more than a third of its error, and none for the better.
var solveSteps = []step{
	{0.24, 0.12, 0.012},
	{0.50, 0.30, 0.018},
	{99, 99, 0.030},
}

// spaceSteps is solveSteps of a motion that is seen in space: far from impact 45 ms still
// resolve 7 Hz, and no figure is the worse for it. One camera's landings before the turn are.
var spaceSteps = []step{
	solveSteps[0],
	solveSteps[1],
	{1.10, 0.60, 0.030},
	{99, 99, 0.045},
}

// tellSteps is the spacing of the samples of the mean course.
var tellSteps = []step{
	{0.26, 0.12, 0.004},
	{0.80, 0.45, 0.010},
	{99, 99, 0.020},
}

// leastSide is how many nodes lie on each side of the break at least: with the break's own,
// a cubic's four.
const leastSide = 3

// newGrid covers [from, to] with a node exactly at impact; from < impact < to.
func newGrid(spacing []step, from, impact, to float64) *grid {
	g := &grid{}
	for d, k := 0.0, 0; impact-d > from || len(g.t) < leastSide; {
		for k < len(spacing)-1 && d >= spacing[k].before-1e-9 {
			k++
		}
		d += spacing[k].step
		g.t = append(g.t, impact-d)
	}
	slices.Reverse(g.t)
	g.brk = len(g.t)
	g.t = append(g.t, impact)
	for d, k := 0.0, 0; impact+d < to || len(g.t) <= g.brk+leastSide; {
		for k < len(spacing)-1 && d >= spacing[k].after-1e-9 {
			k++
		}
		d += spacing[k].step
		g.t = append(g.t, impact+d)
	}
	return g.measure()
}

// newUniform covers [impact − before·step, impact + after·step] evenly.
func newUniform(impact, step float64, before, after int) *grid {
	g := &grid{brk: before}
	for k := -before; k <= after; k++ {
		g.t = append(g.t, impact+float64(k)*step)
	}
	return g.measure()
}

// side returns the first and last node on the side of the break that holds t.
func (g *grid) side(t float64) (lo, hi int) {
	if g.brk < 0 {
		return 0, len(g.t) - 1
	}
	if t <= g.t[g.brk] {
		return 0, g.brk
	}
	return g.brk, len(g.t) - 1
}

// fades say how first-order courses of a memory go on from node to node.
type fades struct {
	memory float64 // seconds
	nodes  []fade
}

// fade is what is left at a node of a course's value at the node before, and what comes to it,
// times a normal number, for its variance to stay.
type fade struct{ keep, fresh float64 }

// fading returns the fades of a memory, which is kept; nothing lasts of none.
func (g *grid) fading(memory float64) []fade {
	for i := range g.fades {
		if g.fades[i].memory == memory {
			return g.fades[i].nodes
		}
	}
	nodes := make([]fade, len(g.t))
	for i := range nodes {
		keep := 0.0
		if i > 0 && memory > 0 {
			keep = math.Exp((g.t[i-1] - g.t[i]) / memory)
		}
		nodes[i] = fade{keep, math.Sqrt(1 - keep*keep)}
	}
	g.fades = append(g.fades, fades{memory, nodes})
	return nodes
}

// stencil returns the first of the four nodes that interpolate instant t and
// their weights for position (Lagrange, cubic); all four lie on t's side of
// the break.
func (g *grid) stencil(t float64) (first int, w [4]float64) {
	lo, hi := g.side(t)
	first = g.window(t, lo, hi)
	return first, g.lagrange(first, t)
}

// knot is the stencil of one instant: four nodes from first on, with their
// weights for position.
type knot struct {
	first int
	w     [4]float64
}

// knots appends the stencils of sights to out; quick where they are in time order.
func (g *grid) knots(s []sight, out []knot) []knot {
	i := 0 // the first node that is not before the sight
	for k := range s {
		t := s[k].t
		if i > 0 && g.t[i-1] >= t {
			i = 0
		}
		for i < len(g.t) && g.t[i] < t {
			i++
		}
		lo, hi := g.side(t)
		first := max(lo, min(i-2, hi-3))
		out = append(out, knot{first, g.lagrange(first, t)})
	}
	return out
}

// window picks four nodes in [lo, hi] around t, centred where possible.
func (g *grid) window(t float64, lo, hi int) int {
	i := sort.SearchFloat64s(g.t[lo:hi+1], t) + lo
	return max(lo, min(i-2, hi-3))
}

// lagrange returns the weights of cubic interpolation at t from the four nodes
// from first on.
func (g *grid) lagrange(first int, t float64) [4]float64 {
	x, c := (*[4]float64)(g.t[first:]), &g.inv[first]
	a, b, d, e := t-x[0], t-x[1], t-x[2], t-x[3]
	return [4]float64{b * d * e * c[0], a * d * e * c[1], a * b * e * c[2], a * b * d * c[3]}
}

// slope returns the weights of the first derivative at t of the cubic through the four
// nodes from first on.
func (g *grid) slope(first int, t float64) [4]float64 {
	x, c := (*[4]float64)(g.t[first:]), &g.inv[first]
	a, b, d, e := t-x[0], t-x[1], t-x[2], t-x[3]
	return [4]float64{
		(b*d + b*e + d*e) * c[0],
		(a*d + a*e + d*e) * c[1],
		(a*b + a*e + b*e) * c[2],
		(a*b + a*d + b*d) * c[3],
	}
}

// curve returns the weights of the second derivative at t of the cubic
// through four nodes.
func curve(x []float64, t float64) (w [4]float64) {
	for i := range 4 {
		den, num := 1.0, 0.0
		for j := range 4 {
			if j != i {
				den *= x[i] - x[j]
				num += t - x[j]
			}
		}
		w[i] = 2 * num / den
	}
	return w
}

// jerk returns the weights of the third derivative over the four nodes from
// first on (six times the third divided difference).
func (g *grid) jerk(first int) [4]float64 {
	c := &g.inv[first]
	return [4]float64{6 * c[0], 6 * c[1], 6 * c[2], 6 * c[3]}
}

// sampling says at which instants a course is told, and where the motion is read for them.
//
// The break of a grid is where an instant impact would have to be; contact,
// when ball and strings first meet, is lead seconds before it. The samples
// before impact end with the contact itself, read from the side before; the
// samples after begin with the motion at the break, at the same instant.
type sampling struct {
	t, at  []float64 // seconds: as told, and as read
	brk    int       // the last sample before impact
	edge   float64   // the break
	tables []*table  // of the grids that were read so far
}

// table reads a sampling from the nodes of a grid.
type table struct {
	g     *grid
	reads []reading // a sample
}

// reading reads one sample from four nodes from first on, with weights for place and velocity.
type reading struct {
	first, node int // node: at which it is; −1: at none
	place, vel  [4]float64
}

func (g *grid) sampling(lead float64) *sampling {
	s := &sampling{edge: g.t[g.brk]}
	contact := s.edge - lead
	put := func(label, at float64) { s.t, s.at = append(s.t, label), append(s.at, at) }
	for _, t := range g.t[:g.brk] {
		if t < contact-1e-4 {
			put(t, t)
		}
	}
	s.brk = len(s.t)
	put(contact, contact)
	put(contact, s.edge)
	for _, t := range g.t[g.brk+1:] {
		put(t, t)
	}
	return s
}

// of returns the table of a grid. Nothing is read across its break where that is
// the sampling's own.
func (s *sampling) of(g *grid) *table {
	for _, t := range s.tables {
		if t.g == g {
			return t
		}
	}
	t := &table{g: g, reads: make([]reading, len(s.at))}
	for i, at := range s.at {
		lo, hi := g.side(at)
		if g.brk >= 0 && g.t[g.brk] == s.edge {
			lo, hi = 0, g.brk
			if i > s.brk {
				lo, hi = g.brk, len(g.t)-1
			}
		}
		first := g.window(at, lo, hi)
		node := slices.Index(g.t[first:first+4], at)
		if node >= 0 {
			node += first
		}
		t.reads[i] = reading{first, node, g.lagrange(first, at), g.slope(first, at)}
	}
	s.tables = append(s.tables, t)
	return t
}

// read returns places and velocities at the samples, from places at the nodes, in the memory
// of pos and vel.
func (t *table) read(nodes, pos, vel []geom.Vec3) (p, v []geom.Vec3) {
	reads := t.reads
	pos, vel = sized(pos, len(reads)), sized(vel, len(reads))
	for i := range reads {
		r := &reads[i]
		n, w := (*[4]geom.Vec3)(nodes[r.first:]), &r.vel
		if r.node >= 0 {
			pos[i] = nodes[r.node]
		} else {
			pos[i] = combine4(n, &r.place)
		}
		vel[i] = geom.Vec3{ // combine4, written out
			X: w[0]*n[0].X + w[1]*n[1].X + (w[2]*n[2].X + w[3]*n[3].X),
			Y: w[0]*n[0].Y + w[1]*n[1].Y + (w[2]*n[2].Y + w[3]*n[3].Y),
			Z: w[0]*n[0].Z + w[1]*n[1].Z + (w[2]*n[2].Z + w[3]*n[3].Z),
		}
	}
	return pos, vel
}

// sized returns n places, of whatever value, in the memory of v as far as that goes.
func sized(v []geom.Vec3, n int) []geom.Vec3 {
	if cap(v) < n {
		return make([]geom.Vec3, n, n+n/4)
	}
	return v[:n]
}
