package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// What the sights of one instant say is linearised at the present course: a sight of the
// point a metres along the axis with the coefficient c of its place has the coefficients
// w_j·(c, a·c·e1_j, a·c·e2_j) at node j: all sights of the instant together give node
// pairs (p, q) the information w_p·w_q·(M0, M1·E_q; E_pᵀ·M1, E_pᵀ·M2·E_q) with
// M_k = Σ a^k·c·cᵀ/v, E = (e1, e2). Of instants between the same nodes the sums
// Σ w_p·w_q·M_k are taken first, and the frames come in once.
//
// One camera alone sees the tilt of a rod that lies across its view by nothing of first
// order: c·e is zero there. Second order tells: as the axis turns by α its point falls
// back by a·α²/2 along it, so that a pull f outward along the axis u, where the image shows
// the rod as long as it is or longer, holds the tilt with the information a·f·u, the same
// in all directions across u. Without it steps go too far there, to and fro for ever.
// Where the pull is inward the tilt has first order to go by, and the term is left out,
// which keeps the information positive.

// leverage is M0, M1 and M2: of sights of places, which tell the same along every axis, as
// numbers, of others as matrices.
type leverage struct {
	even [3]float64
	full [3]sym3
	some bool // the matrices hold something
}

// add adds a sight's information of its place, a metres along, times the weight w.
func (m *leverage) add(info *sym3, w, a float64) {
	m.some = true
	w1 := w * a
	w2 := w1 * a
	for k, e := range info {
		m.full[0][k] += w * e
		m.full[1][k] += w1 * e
		m.full[2][k] += w2 * e
	}
}

// addEven is add for a sight that tells the same, w, along every axis.
func (m *leverage) addEven(w, a float64) {
	w1 := w * a
	m.even[0] += w
	m.even[1] += w1
	m.even[2] += w1 * a
}

// apply returns M_k·v.
func (m *leverage) apply(k int, v geom.Vec3) geom.Vec3 {
	out := v.Scale(m.even[k])
	if m.some {
		out = out.Add(m.full[k].apply(v))
	}
	return out
}

// gathered is what the sights between the same nodes say.
type gathered struct {
	first  int            // of the four nodes
	even   [10][3]float64 // Σ w_p·w_q·M_k of the pairs (0, 0), (1, 0), (1, 1), (2, 0) …
	full   [10][3]sym3
	many   bool         // full is used
	some   bool         // full holds something
	places bool         // even holds something
	f0     [4]geom.Vec3 // Σ w_p·Σ c·y/v
	f1     [4]geom.Vec3 // Σ w_p·Σ a·c·y/v
}

// fewSharing is up to how many instants between the same nodes it is cheaper to take the
// matrices in one by one.
const fewSharing = 2

// sharing is how many instants from glance i on lie between the same nodes.
func (r *rod) sharing(i int) int {
	n, first := 1, r.glances[i].first
	for i+n < len(r.glances) && r.glances[i+n].first == first {
		n++
	}
	return n
}

// gather takes in what the sights of one instant say.
func (r *rod) gather(b *band, sum *gathered, v *glance, m *leverage) {
	if m.even != ([3]float64{}) {
		sum.addEven(&v.w, m)
	}
	switch {
	case !m.some:
	case sum.many:
		sum.addFull(&v.w, m)
	default:
		r.informGlance(b, v, &m.full)
	}
}

// begin empties the sums for the four nodes from first on and a number of instants.
func (g *gathered) begin(first, sharing int) {
	g.first, g.many = first, sharing > fewSharing
	if g.places {
		g.even, g.places = [10][3]float64{}, false
	}
	if g.some {
		g.full, g.some = [10][3]sym3{}, false
	}
	g.f0, g.f1 = [4]geom.Vec3{}, [4]geom.Vec3{}
}

// addEven adds what one instant's sights tell the same along every axis.
func (g *gathered) addEven(w *[4]float64, m *leverage) {
	g.places = true
	m0, m1, m2, k := m.even[0], m.even[1], m.even[2], 0
	for p, wp := range w {
		for _, wq := range w[:p+1] {
			f, o := wp*wq, &g.even[k]
			o[0] += f * m0
			o[1] += f * m1
			o[2] += f * m2
			k++
		}
	}
}

// addFull adds what others of them tell.
func (g *gathered) addFull(w *[4]float64, m *leverage) {
	g.some = true
	k := 0
	for p, wp := range w {
		for _, wq := range w[:p+1] {
			f := wp * wq
			for j := range m.full {
				x, o := &m.full[j], &g.full[k][j]
				o[0] += f * x[0]
				o[1] += f * x[1]
				o[2] += f * x[2]
				o[3] += f * x[3]
				o[4] += f * x[4]
				o[5] += f * x[5]
			}
			k++
		}
	}
}

// pull adds one instant's pulls.
func (g *gathered) pull(w *[4]float64, f0, f1 geom.Vec3) {
	for p, w := range w {
		g.f0[p] = g.f0[p].Add(f0.Scale(w))
		g.f1[p] = g.f1[p].Add(f1.Scale(w))
	}
}

// addGlances adds what the sights say, and where anew is set weighs them for it before.
func (r *rod) addGlances(x []float64, anew bool) {
	var sum gathered
	sum.first = -1
	for i := range r.glances {
		v := &r.glances[i]
		if v.first != sum.first {
			r.takeIn(x, &sum)
			sum.begin(v.first, r.sharing(i))
		}
		grip, axis := r.read(v)
		var m leverage
		var f0, f1 geom.Vec3
		for i := v.from; i < v.to; i++ {
			s := &r.sights[i]
			at := grip.Add(axis.Scale(s.along))
			var f geom.Vec3
			if s.kind == place {
				c := 1 / (s.sd * s.sd)
				e := s.p.Sub(at)
				if anew {
					s.w = robustWeight(c*e.Dot(e), 3)
				}
				c *= s.w
				m.addEven(c, s.along)
				f = e.Scale(c)
			} else {
				chi2, info, pull := s.look(at)
				if anew {
					s.w = robustWeight(chi2, s.dim())
				}
				m.add(&info, s.w, s.along)
				f = pull.Scale(s.w)
			}
			f0 = f0.Add(f)
			f1 = f1.Add(f.Scale(s.along))
		}
		if r.alone {
			v.bent = math.Max(0, f1.Dot(axis))
			m.even[2] += v.bent
		}
		// The grip's unknowns are places, not increments.
		r.gather(r.fac, &sum, v, &m)
		sum.pull(&v.w, f0.Add(m.apply(0, grip)), f1.Add(m.apply(1, grip)))
	}
	r.takeIn(x, &sum)
}

// takeIn adds what was gathered between some nodes to the solve.
func (r *rod) takeIn(x []float64, sum *gathered) {
	if sum.first < 0 {
		return
	}
	r.inform(r.fac, sum)
	for p := range 4 {
		r.pushNode(x, sum.first+p, sum.f0[p], sum.f1[p])
	}
}

// push adds to x the pull at one instant: f0 = Σ c·y/v and f1 = Σ a·c·y/v.
func (r *rod) push(v *glance, x []float64, f0, f1 geom.Vec3) {
	for j, w := range v.w {
		r.pushNode(x, v.first+j, f0.Scale(w), f1.Scale(w))
	}
}

func (r *rod) pushNode(x []float64, n int, f0, f1 geom.Vec3) {
	y := (*[rodDims]float64)(x[n*rodDims:])
	y[0] += f0.X
	y[1] += f0.Y
	y[2] += f0.Z
	y[3] += f1.Dot(r.e1[n])
	y[4] += f1.Dot(r.e2[n])
}

// inform adds the information that was gathered between some nodes to b.
func (r *rod) inform(b *band, sum *gathered) {
	e1, e2 := (*[4]geom.Vec3)(r.e1[sum.first:]), (*[4]geom.Vec3)(r.e2[sum.first:])
	if !sum.places && !sum.some {
		return
	}
	k := 0
	for p := range 4 {
		for q := range p + 1 {
			d := b.blocks.at(sum.first+p, sum.first+q)
			if sum.places {
				d.addEven(&sum.even[k], e1[p], e2[p], e1[q], e2[q])
			}
			if sum.some {
				d.addFull(&sum.full[k], e1[p], e2[p], e1[q], e2[q])
			}
			k++
		}
	}
}

// informGlance adds to b what matrices say of one instant.
func (r *rod) informGlance(b *band, v *glance, m *[3]sym3) {
	e1, e2 := (*[4]geom.Vec3)(r.e1[v.first:]), (*[4]geom.Vec3)(r.e2[v.first:])
	var a1, a2, b1, b2 [4]geom.Vec3 // M1·e1, M1·e2, M2·e1, M2·e2 at the four nodes
	for j := range 4 {
		a1[j], a2[j] = m[1].apply(e1[j]), m[1].apply(e2[j])
		b1[j], b2[j] = m[2].apply(e1[j]), m[2].apply(e2[j])
	}
	for p, wp := range v.w {
		for q, wq := range v.w[:p+1] {
			b.blocks.at(v.first+p, v.first+q).addTimes(wp*wq, &m[0], &a1[p], &a2[p], &a1[q], &a2[q], &e1[p], &e2[p], &b1[q], &b2[q])
		}
	}
}

// addTimes adds f·(M0, a; cᵀ, (p1, p2)ᵀ·(b1, b2)), a = M1·E_q, c = M1·E_p, b = M2·E_q.
func (d *block) addTimes(f float64, m0 *sym3, c1, c2, a1, a2, p1, p2, b1, b2 *geom.Vec3) {
	d[0][0] += f * m0[0]
	d[0][1] += f * m0[1]
	d[0][2] += f * m0[3]
	d[0][3] += f * a1.X
	d[0][4] += f * a2.X
	d[1][0] += f * m0[1]
	d[1][1] += f * m0[2]
	d[1][2] += f * m0[4]
	d[1][3] += f * a1.Y
	d[1][4] += f * a2.Y
	d[2][0] += f * m0[3]
	d[2][1] += f * m0[4]
	d[2][2] += f * m0[5]
	d[2][3] += f * a1.Z
	d[2][4] += f * a2.Z
	d[3][0] += f * c1.X
	d[3][1] += f * c1.Y
	d[3][2] += f * c1.Z
	d[3][3] += f * p1.Dot(*b1)
	d[3][4] += f * p1.Dot(*b2)
	d[4][0] += f * c2.X
	d[4][1] += f * c2.Y
	d[4][2] += f * c2.Z
	d[4][3] += f * p2.Dot(*b1)
	d[4][4] += f * p2.Dot(*b2)
}

// addEven adds (M0, M1·E_q; E_pᵀ·M1, E_pᵀ·M2·E_q), each M_k a number times the unit matrix.
func (d *block) addEven(m *[3]float64, p1, p2, q1, q2 geom.Vec3) {
	m0, m1, m2 := m[0], m[1], m[2]
	d[0][0] += m0
	d[0][3] += m1 * q1.X
	d[0][4] += m1 * q2.X
	d[1][1] += m0
	d[1][3] += m1 * q1.Y
	d[1][4] += m1 * q2.Y
	d[2][2] += m0
	d[2][3] += m1 * q1.Z
	d[2][4] += m1 * q2.Z
	d[3][0] += m1 * p1.X
	d[3][1] += m1 * p1.Y
	d[3][2] += m1 * p1.Z
	d[3][3] += m2 * p1.Dot(q1)
	d[3][4] += m2 * p1.Dot(q2)
	d[4][0] += m1 * p2.X
	d[4][1] += m1 * p2.Y
	d[4][2] += m1 * p2.Z
	d[4][3] += m2 * p2.Dot(q1)
	d[4][4] += m2 * p2.Dot(q2)
}

// addFull is addEven for symmetric matrices.
func (d *block) addFull(m *[3]sym3, p1, p2, q1, q2 geom.Vec3) {
	a1, a2, b1, b2 := m[1].apply(q1), m[1].apply(q2), m[2].apply(q1), m[2].apply(q2)
	c1, c2 := m[1].apply(p1), m[1].apply(p2)
	d.addTimes(1, &m[0], &c1, &c2, &a1, &a2, &p1, &p2, &b1, &b2)
}
