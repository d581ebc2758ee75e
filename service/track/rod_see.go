package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// addGlance adds what the sights of one instant say, linearised at the present
// course, and where anew is set weighs them for it before. A sight of the point a metres
// along the axis with the coefficient c of its place has the coefficients
// w_j·(c, a·c·e1_j, a·c·e2_j) at node j: all sights of the instant together give node
// pairs (p, q) the information w_p·w_q·(M0, M1·E_q; E_pᵀ·M1, E_pᵀ·M2·E_q) with
// M_k = Σ a^k·c·cᵀ/v, E = (e1, e2).
//
// One camera alone sees the tilt of a rod that lies across its view by nothing of first
// order: c·e is zero there. Second order tells: as the axis turns by α its point falls
// back by a·α²/2 along it, so that a pull f outward along the axis u, where the image shows
// the rod as long as it is or longer, holds the tilt with the information a·f·u, the same
// in all directions across u. Without it steps go too far there, to and fro for ever.
// Where the pull is inward the tilt has first order to go by, and the term is left out,
// which keeps the information positive.
func (r *rod) addGlance(v *glance, x []float64, anew bool) {
	grip, axis := r.read(v)
	var m0, m1, m2 sym3
	var f0, f1 geom.Vec3
	for i := v.from; i < v.to; i++ {
		s := &r.sights[i]
		chi2, m, f := s.look(grip.Add(axis.Scale(s.along)))
		if anew {
			s.w = robustWeight(chi2, s.dim())
		}
		a0 := s.w
		a1 := a0 * s.along
		a2 := a1 * s.along
		for k, e := range m {
			m0[k] += a0 * e
			m1[k] += a1 * e
			m2[k] += a2 * e
		}
		f0 = f0.Add(f.Scale(a0))
		f1 = f1.Add(f.Scale(a1))
	}
	if r.alone {
		v.bent = math.Max(0, f1.Dot(axis))
		m2[0] += v.bent
		m2[3] += v.bent
		m2[5] += v.bent
	}
	// The grip's unknowns are places, not increments.
	f0 = f0.Add(m0.apply(grip))
	f1 = f1.Add(m1.apply(grip))
	r.informGlance(r.fac, v, &m0, &m1, &m2)
	r.push(v, x, f0, f1)
}

// push adds to x the pull at one instant: f0 = Σ c·y/v and f1 = Σ a·c·y/v.
func (r *rod) push(v *glance, x []float64, f0, f1 geom.Vec3) {
	for j, w := range v.w {
		n := v.first + j
		y := x[n*rodDims : n*rodDims+rodDims]
		y[0] += w * f0.X
		y[1] += w * f0.Y
		y[2] += w * f0.Z
		y[3] += w * f1.Dot(r.e1[n])
		y[4] += w * f1.Dot(r.e2[n])
	}
}

// informGlance adds the information of one instant to b.
func (r *rod) informGlance(b *band, v *glance, m0, m1, m2 *sym3) {
	var a1, a2, b1, b2 [4]geom.Vec3 // M1·e1, M1·e2, M2·e1, M2·e2 at the four nodes
	for j := range 4 {
		e1, e2 := r.e1[v.first+j], r.e2[v.first+j]
		a1[j], a2[j] = m1.apply(e1), m1.apply(e2)
		b1[j], b2[j] = m2.apply(e1), m2.apply(e2)
	}
	hb, a := b.hb, b.a
	for p := range 4 {
		row := rodDims * (v.first + p)
		e1, e2 := r.e1[v.first+p], r.e2[v.first+p]
		for q := range p + 1 {
			f := v.w[p] * v.w[q]
			k := (row+1)*hb + rodDims*(v.first+q) // element (i, j) stands at (i+1)·hb + j
			y3 := (*[5]float64)(a[k+3*hb:])
			y4 := (*[5]float64)(a[k+4*hb:])
			y3[0] += f * a1[p].X
			y3[1] += f * a1[p].Y
			y3[2] += f * a1[p].Z
			y3[3] += f * e1.Dot(b1[q])
			y4[0] += f * a2[p].X
			y4[1] += f * a2[p].Y
			y4[2] += f * a2[p].Z
			y4[3] += f * e2.Dot(b1[q])
			y4[4] += f * e2.Dot(b2[q])
			if p == q {
				a[k] += f * m0[0]
				a[k+hb] += f * m0[1]
				a[k+hb+1] += f * m0[2]
				a[k+2*hb] += f * m0[3]
				a[k+2*hb+1] += f * m0[4]
				a[k+2*hb+2] += f * m0[5]
				continue
			}
			y3[4] += f * e1.Dot(b2[q])
			y0 := (*[5]float64)(a[k:])
			y1 := (*[5]float64)(a[k+hb:])
			y2 := (*[5]float64)(a[k+2*hb:])
			y0[0] += f * m0[0]
			y0[1] += f * m0[1]
			y0[2] += f * m0[3]
			y0[3] += f * a1[q].X
			y0[4] += f * a2[q].X
			y1[0] += f * m0[1]
			y1[1] += f * m0[2]
			y1[2] += f * m0[4]
			y1[3] += f * a1[q].Y
			y1[4] += f * a2[q].Y
			y2[0] += f * m0[3]
			y2[1] += f * m0[4]
			y2[2] += f * m0[5]
			y2[3] += f * a1[q].Z
			y2[4] += f * a2[q].Z
		}
	}
}
