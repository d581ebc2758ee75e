package track

import (
	"math"
	"sort"

	"example.com/courtkin/service/geom"
)

// Away from impact, too, the two tilts that an image allows must be told apart.
// The window falls into stretches between the instants at which the racket lies
// most nearly across the view: only there can its tilt change sign. What the body
// says of each stretch, and what a smooth motion says of each of those instants,
// make a chain of few links, from which the signs of whole windows are drawn
// (forward filtering, backward sampling: Carter & Kohn 1994, Biometrika 81:541–553).

// tilts is the chain of one window.
type tilts struct {
	at     float64 // s, impact
	eye    geom.Vec3
	reach  float64 // grip centre → tip, metres
	cs     []axisChoice
	bounds []int        // first frames of the stretches; last: the number of frames
	cost   [][2]float64 // of each stretch, by choice: squared residuals
	pass   []float64    // log odds that the tilt changes sign where the stretch begins
	early  int          // the stretch in which the start of what is solved around impact lies
	late   int          // the same of its end
	fac    band         // of the rods that are tried, one after the other
	before [][2]float64 // log weight of all that comes before a stretch, and the stretch
	after  [][2]float64 // the same after it
}

// Around impact, from nearBefore before to nearAfter after it, rival courses of the
// racket are solved and compared whole; the chain says the rest. Seconds.
const (
	nearBefore = 0.15
	nearAfter  = 0.06
)

// newTilts lays out the chain; cost holds both choices' costs in every frame.
func (m *scene) newTilts(cs []axisChoice, cost [][2]float64, sights []rodSight, grip func(t float64) geom.Vec3) *tilts {
	c := &tilts{at: m.g.t[m.g.brk], eye: m.rig.Eyes[0].Center(), reach: m.length - gripFromButt, cs: cs}
	c.bounds = append(append([]int{0}, turningPoints(cs)...), len(cs))
	n := len(c.bounds) - 1
	c.cost, c.pass = make([][2]float64, n), make([]float64, n)
	for k := range n {
		for i := c.bounds[k]; i < c.bounds[k+1]; i++ {
			for s := range 2 {
				c.cost[k][s] += cost[i][s]
			}
		}
	}
	c.early, c.late = c.stretchAt(c.at-nearBefore), c.stretchAt(c.at+nearAfter)
	for k := 1; k < n; k++ {
		if k <= c.early || k > c.late {
			c.pass[k] = c.passOdds(m, k, sights, grip)
		}
	}
	c.gather()
	return c
}

// stretchAt is the stretch that holds the instant t.
func (c *tilts) stretchAt(t float64) int {
	k := 0
	for k+2 < len(c.bounds) && c.cs[c.bounds[k+1]].t <= t {
		k++
	}
	return k
}

// turningPoints lists the frames at which the tilt may change sign: those in which the
// rod lies most nearly across the view, and the first after a gap.
func turningPoints(cs []axisChoice) (out []int) {
	const gap = 0.08 // s
	next := dips(cs)
	for i := 1; i < len(cs); i++ {
		dip := len(next) > 0 && next[0] == i
		if dip {
			next = next[1:]
		}
		if dip || cs[i].t-cs[i-1].t > gap {
			out = append(out, i)
		}
	}
	return out
}

// Dips of the tilt that noise has not made. Of a rod that shows 75 pixels long, sights that err by
// 2 have the square of the sine of its tilt err by 0.05.
const (
	dipNearly = 0.25  // square of the sine of a tilt up to which it may have passed zero beside the frame
	dipRise   = 0.1   // how much the square must rise between two dips; else they are one
	dipShown  = 0.12  // what it must come to between them
	dipReach  = 0.012 // s: over which to each side frames are taken together: a phone's few do not err alike
)

// dips lists the frames in which the rod lies more nearly across the view than in those around,
// and nearly so. Frames that come thick are taken together, and between two dips the rod
// must have shown a tilt: noise makes a dip in every few frames of a rod that rests
// askew, and to turn its tilt over between them would leave it none.
func dips(cs []axisChoice) (out []int) {
	flat := calmTilts(cs)
	most := 0.0 // since the last one
	for i := 1; i+1 < len(cs); i++ {
		f := flat[i]
		most = math.Max(most, f)
		if !(f < dipNearly && f <= flat[i-1] && f < flat[i+1]) {
			continue
		}
		if n := len(out); n > 0 {
			last := flat[out[n-1]]
			if most < math.Max(dipShown, math.Max(last, f)+dipRise) {
				if f < last {
					out[n-1], most = i, f
				}
				continue
			}
		}
		out, most = append(out, i), f
	}
	return out
}

// calmTilts are the squares of the sines of the tilts, each the mean over dipReach to each side.
func calmTilts(cs []axisChoice) []float64 {
	out := make([]float64, len(cs))
	lo, hi, sum := 0, 0, 0.0
	for i := range cs {
		for ; hi < len(cs) && cs[hi].t <= cs[i].t+dipReach; hi++ {
			sum += cs[hi].flat * cs[hi].flat
		}
		for ; cs[lo].t < cs[i].t-dipReach; lo++ {
			sum -= cs[lo].flat * cs[lo].flat
		}
		out[i] = sum / float64(hi-lo)
	}
	return out
}

// passOdds compares a course of the racket that goes through the plane across the
// view at the start of stretch k with one that turns back there: the difference of
// their evidence on a small grid.
func (c *tilts) passOdds(m *scene, k int, sights []rodSight, grip func(t float64) geom.Vec3) float64 {
	const step, reach, most = 0.020, 6, 12.0
	i := c.bounds[k]
	at := (c.cs[i].t + c.cs[i-1].t) / 2
	g := &grid{brk: -1}
	for j := -reach; j <= reach; j++ {
		if t := at + float64(j)*step; at < c.at || t > c.at+step { // not across impact
			g.t = append(g.t, t)
		}
	}
	g.measure()
	near := nearSights(sights, g)
	hand, turn := evenly(handOf, at-c.at), evenly(turnOf, at-c.at)
	var said [2]float64
	for s := range 2 {
		r := c.localRod(g, k, s, grip)
		if r == nil {
			return 0
		}
		r.fac = &c.fac
		if !settleRod(r, near, hand, turn, 3) {
			return 0
		}
		said[s] = r.evidence(near)
	}
	return evidenceTrust * clamp(said[1]-said[0], -most, most)
}

// evenly is a motion as rough everywhere as r is dt seconds from impact.
func evenly(r rough, dt float64) rough { return rough{level: r.density(dt), width: 1, floor: 1} }

// localRod is the rod on a small grid with one choice before stretch k and, where change
// is 1, the other from there on.
func (c *tilts) localRod(g *grid, k, change int, grip func(t float64) geom.Vec3) *rod {
	const beyond = 0.03 // s
	lo := sort.Search(len(c.cs), func(i int) bool { return c.cs[i].t > g.t[0]-beyond })
	hi := sort.Search(len(c.cs), func(i int) bool { return c.cs[i].t >= g.t[len(g.t)-1]+beyond })
	s := make([]sight, 0, max(0, hi-lo))
	for i := lo; i < hi; i++ {
		u := c.cs[i].u[0]
		if i >= c.bounds[k] {
			u = c.cs[i].u[change]
		}
		s = append(s, sight{kind: place, t: c.cs[i].t, p: u, sd: 0.08, w: 1})
	}
	if len(s) < 4 {
		return nil
	}
	p, ok := smoothPoint(g, s, evenly(turnOf, g.t[0]-c.at), 0, nil)
	if !ok {
		return nil
	}
	axis, at := make([]geom.Vec3, len(g.t)), make([]geom.Vec3, len(g.t))
	for i, v := range p.mean {
		axis[i], at[i] = v.Unit(), grip(g.t[i])
	}
	return newRod(nil, g, at, axis)
}

// gather sums the chain up from both ends.
func (c *tilts) gather() {
	n := len(c.cost)
	c.before, c.after = make([][2]float64, n), make([][2]float64, n)
	for k := range n {
		for s := range 2 {
			c.before[k][s] = -0.5 * c.cost[k][s]
			if k > 0 {
				c.before[k][s] += logSum([]float64{c.before[k-1][s], c.before[k-1][1-s] + c.pass[k]})
			}
		}
	}
	for k := n - 1; k >= 0; k-- {
		for s := range 2 {
			c.after[k][s] = -0.5 * c.cost[k][s]
			if k+1 < n {
				c.after[k][s] += logSum([]float64{c.after[k+1][s], c.after[k+1][1-s] + c.pass[k+1]})
			}
		}
	}
}

// signs goes out from the signs of the two edges of what was solved around impact and
// chooses one for each stretch outside: the likelier one each time, or by lot.
// Between the edges it leaves −1.
func (c *tilts) signs(edge [2]int, rng *dice) []int {
	out := make([]int, len(c.cost))
	for k := range out {
		out[k] = -1
	}
	choose := func(from int, pass float64, w [2]float64) int {
		d := w[1-from] + pass - w[from] // log odds of a change
		if rng == nil && d > 0 || rng != nil && rng.Float64() < 1/(1+math.Exp(-d)) {
			return 1 - from
		}
		return from
	}
	out[c.early], out[c.late] = edge[0], edge[1]
	for k := c.early; k > 0; k-- {
		out[k-1] = choose(out[k], c.pass[k], c.before[k-1])
	}
	for k := c.late; k+1 < len(out); k++ {
		out[k+1] = choose(out[k], c.pass[k+1], c.after[k+1])
	}
	return out
}

// vote is the choice that a course of the axis makes in a stretch, within [from, to].
func (c *tilts) vote(k int, from, to float64, axis func(t float64) geom.Vec3) int {
	sum := 0.0
	for i := c.bounds[k]; i < c.bounds[k+1]; i++ {
		if t := c.cs[i].t; t >= from && t <= to {
			sum += c.cs[i].flat * float64(2*c.cs[i].nearer(axis(t))-1)
		}
	}
	if sum > 0 {
		return 1
	}
	return 0
}

// edges are the choices of a course that was solved around impact, where that ends.
func (c *tilts) edges(r *rod) [2]int {
	first, last := r.g.t[0], r.g.t[len(r.g.t)-1]
	return [2]int{c.vote(c.early, first, c.at, r.axisAt), c.vote(c.late, c.at, last, r.axisAt)}
}

// picks are the likeliest choices, frame by frame, beside a course solved around impact.
func (c *tilts) picks(r *rod) []int {
	s := c.signs(c.edges(r), nil)
	out := make([]int, len(c.cs))
	for k := range s {
		for i := c.bounds[k]; i < c.bounds[k+1]; i++ {
			t := c.cs[i].t
			if out[i] = s[k]; s[k] < 0 || t > c.at-nearBefore && t < c.at+nearAfter {
				out[i] = c.cs[i].nearer(r.axisAt(clamp(t, r.g.t[0], r.g.t[len(r.g.t)-1])))
			}
		}
	}
	return out
}

// openSigns is what the chain leaves open beside one course of the racket.
type openSigns struct {
	c     *tilts
	edge  [2]int
	holds []int // the course's own choice in each stretch
}

// open reads a course on the whole grid.
func (c *tilts) open(r *rod) *openSigns {
	if c == nil {
		return nil
	}
	o := &openSigns{c: c, edge: c.edges(r), holds: make([]int, len(c.cost))}
	for k := range o.holds {
		o.holds[k] = c.vote(k, c.cs[c.bounds[k]].t, c.cs[c.bounds[k+1]-1].t, r.axisAt)
	}
	return o
}

// waver turns over, in a draw from the course, the stretches whose signs come out
// otherwise by lot. The mirror image of a course in the plane across the view fits the
// image as well, and it moves as smoothly but where it begins and ends.
func (o *openSigns) waver(rng *dice, g *grid, grip, axis []geom.Vec3) {
	c := o.c
	s := c.signs(o.edge, rng)
	s[c.early], s[c.late] = o.holds[c.early], o.holds[c.late]
	for k := 0; k < len(s); k++ {
		if s[k] < 0 || s[k] == o.holds[k] {
			continue
		}
		lo, hi := math.Inf(-1), math.Inf(1)
		if k > 0 {
			lo = g.t[c.crossing(g, c.cs[c.bounds[k]].t, grip, axis)]
		}
		for k+1 < len(s) && s[k+1] >= 0 && s[k+1] != o.holds[k+1] {
			k++
		}
		if k+1 < len(s) {
			hi = g.t[c.crossing(g, c.cs[c.bounds[k+1]].t, grip, axis)]
		}
		for i, t := range g.t {
			d := math.Min(t-lo, hi-t)
			if d > -crossTime {
				d := c.ray(grip[i], axis[i])
				axis[i] = axis[i].Sub(d.Scale((1 + smoothStep(math.Min(t-lo, hi-t)/crossTime)) * axis[i].Dot(d))).Unit()
			}
		}
	}
}

// crossTime is how long, to each side of the instant at which a course and its mirror image
// are nearest, one takes to go over into the other, seconds.
const crossTime = 0.05

// smoothStep goes from −1 at x ≤ −1 to 1 at x ≥ 1, level at both ends.
func smoothStep(x float64) float64 {
	x = clamp(x, -1, 1)
	return x * (3 - x*x) / 2
}

// crossing is the node about t at which the axis lies most nearly across the view.
func (c *tilts) crossing(g *grid, t float64, grip, axis []geom.Vec3) int {
	const reach = 0.04 // s
	best, least := 0, math.Inf(1)
	for i, u := range g.t {
		if u < t-reach {
			best = i
			continue
		}
		if u > t+reach {
			break
		}
		if f := math.Abs(axis[i].Dot(c.ray(grip[i], axis[i]))); f < least {
			best, least = i, f
		}
	}
	return best
}

// ray is the unit direction in which the camera sees the tip.
func (c *tilts) ray(grip, axis geom.Vec3) geom.Vec3 {
	return grip.Add(axis.Scale(c.reach)).Sub(c.eye).Unit()
}
