package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// addGlance adds what the sights of one instant say, linearised at the present
// course. A sight of the point a metres along the axis with the coefficient c of
// its place has the coefficients w_j·(c, a·c·e1_j, a·c·e2_j) at node j: all
// sights of the instant together give node pairs (p, q) the information
// w_p·w_q·(M0, M1·E_q; E_pᵀ·M1, E_pᵀ·M2·E_q) with M_k = Σ a^k·c·cᵀ/v, E = (e1, e2).
func (r *rod) addGlance(v *glance, x []float64) {
	first := v.first
	grip, axis := combine(r.grip[first:first+4], v.w), combine(r.axis[first:first+4], v.w)
	var m0, m1, m2 sym3
	var f0, f1 geom.Vec3
	for i := v.from; i < v.to; i++ {
		s := &r.sights[i]
		at := len(r.lines)
		r.lines = s.lines(grip.Add(axis.Scale(s.along)), r.lines)
		var m sym3
		var f geom.Vec3
		for _, l := range r.lines[at:] {
			addOuter(&m, l.c, 1/l.v)
			f = f.Add(l.c.Scale((l.y - s.along*l.c.Dot(axis)) / l.v))
		}
		for k, e := range m {
			m0[k] += e
			m1[k] += s.along * e
			m2[k] += s.along * s.along * e
		}
		f0 = f0.Add(f)
		f1 = f1.Add(f.Scale(s.along))
	}
	r.informGlance(v, &m0, &m1, &m2)
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

// informGlance adds the information of one instant.
func (r *rod) informGlance(v *glance, m0, m1, m2 *sym3) {
	var a1, a2, b1, b2 [4]geom.Vec3 // M1·e1, M1·e2, M2·e1, M2·e2 at the four nodes
	for j := range 4 {
		e1, e2 := r.e1[v.first+j], r.e2[v.first+j]
		a1[j], a2[j] = m1.apply(e1), m1.apply(e2)
		b1[j], b2[j] = m2.apply(e1), m2.apply(e2)
	}
	hb, a := r.fac.hb, r.fac.a
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

// draw writes one draw from the posterior into grip and axis, as path.draw does.
func (r *rod) draw(rng *dice, grip, axis []geom.Vec3, scratch []float64) {
	r.linkSights()
	z := scratch[:len(r.axis)*rodDims]
	clear(z)
	r.shake(z, rng)
	r.prior.shakeFlat(z, rng)
	last := make([]geom.Vec3, r.lasts)
	lines := r.lines
	for i := range r.glances {
		v := &r.glances[i]
		var f0, f1 geom.Vec3
		for k := v.from; k < v.to; k++ {
			s, l := &r.sights[k], &r.links[k]
			d := s.dim()
			f := pullOf(lines[:d], l.next(&s.sight, &last[l.strand], rng))
			lines = lines[d:]
			f0 = f0.Add(f)
			f1 = f1.Add(f.Scale(s.along))
		}
		r.push(v, z, f0, f1)
	}
	r.fac.solve(z)
	for k := range r.axis {
		d := z[k*rodDims:]
		grip[k] = r.grip[k].Add(geom.Vec3{X: d[0], Y: d[1], Z: d[2]})
		axis[k] = turned(r.axis[k], r.e1[k], r.e2[k], d[3], d[4])
	}
}

// shake adds to x the pull of a jerk drawn from the prior.
func (r *rod) shake(x []float64, rng *dice) {
	for i := range r.g.inv {
		w := r.g.jerk(i)
		grip, axis := math.Sqrt(r.handJerk[i]), math.Sqrt(r.turnJerk[i])
		e := [rodDims]float64{
			grip * rng.normal(), grip * rng.normal(), grip * rng.normal(), axis * rng.normal(), axis * rng.normal(),
		}
		for j, c := range w {
			y := x[rodDims*(i+j) : rodDims*(i+j)+rodDims]
			for k, v := range e {
				y[k] += c * v
			}
		}
	}
}

func (r *rod) linkSights() {
	if len(r.links) == len(r.sights) {
		return
	}
	var l linker
	for i := range r.sights {
		r.links = append(r.links, l.link(&r.sights[i].sight, r.sights[i].along))
	}
	r.lasts = len(l.last)
}
