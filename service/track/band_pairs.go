package track

import "math"

// A band matrix is factored two rows at a time, and solved for four right-hand sides at a time:
// what is loaded serves several sums, which do not wait for each other.

// factorRow is factor for row i, those above it done.
func (b *band) factorRow(ri []float64, i int) bool {
	hb, w := b.hb, b.hb+1
	lo := int(b.lead[i])
	for j := lo; j < i; j++ {
		rj := b.a[j*w : j*w+w]
		k0 := max(lo, int(b.lead[j]))
		at := j - i + hb
		ri[at] = (ri[at] - inner(ri[k0-i+hb:at], rj[k0-j+hb:hb])) * rj[hb]
	}
	d := ri[hb] - inner(ri[lo-i+hb:hb], ri[lo-i+hb:hb])
	if !(d > 0) {
		return false
	}
	ri[hb] = 1 / math.Sqrt(d)
	return true
}

// factorTwo is factorRow for rows i and i+1 together, both empty before column lo > i−hb,
// two columns at a time: what is loaded serves two sums.
func (b *band) factorTwo(i, lo int) bool {
	hb, w := b.hb, b.hb+1
	r0, r1 := b.a[i*w:i*w+w], b.a[(i+1)*w:(i+1)*w+w]
	o0, o1 := hb-i, hb-i-1 // column k stands at k + o
	j := lo
	if (i-lo)&1 != 0 {
		rj := b.a[j*w : j*w+w]
		r0[j+o0] *= rj[hb]
		r1[j+o1] *= rj[hb]
		j++
	}
	for ; j < i; j += 2 {
		rj, rk := b.a[j*w:j*w+w], b.a[(j+1)*w:(j+1)*w+w]
		from := max(lo, min(int(b.lead[j]), int(b.lead[j+1])))
		s00, s01, s10, s11 := innerTwo(r0[from+o0:j+o0], r1[from+o1:], rj[from-j+hb:], rk[from-j-1+hb:])
		d0, d1, c := rj[hb], rk[hb], rk[hb-1]
		x0, x1 := (r0[j+o0]-s00)*d0, (r1[j+o1]-s10)*d0
		r0[j+o0], r1[j+o1] = x0, x1
		r0[j+1+o0], r1[j+1+o1] = (r0[j+1+o0]-s01-x0*c)*d1, (r1[j+1+o1]-s11-x1*c)*d1
	}
	x0, x1 := r0[lo+o0:hb], r1[lo+o1:hb-1]
	var s0, s1, s2 float64
	x1 = x1[:len(x0)]
	for k, v := range x0 {
		u := x1[k]
		s0 += v * v
		s1 += v * u
		s2 += u * u
	}
	d := r0[hb] - s0
	if !(d > 0) {
		return false
	}
	d = 1 / math.Sqrt(d)
	r0[hb] = d
	l := (r1[hb-1] - s1) * d
	r1[hb-1] = l
	if d = r1[hb] - s2 - l*l; !(d > 0) {
		return false
	}
	r1[hb] = 1 / math.Sqrt(d)
	return true
}

// innerTwo returns the inner products of x0 and of the beginning of x1, with the beginnings of
// y0 and y1.
func innerTwo(x0, x1, y0, y1 []float64) (s00, s01, s10, s11 float64) {
	x1, y0, y1 = x1[:len(x0)], y0[:len(x0)], y1[:len(x0)]
	for k, a := range x0 {
		b, c, d := x1[k], y0[k], y1[k]
		s00 += a * c
		s01 += a * d
		s10 += b * c
		s11 += b * d
	}
	return s00, s01, s10, s11
}

// forwardFour is forward for four right-hand sides.
func (b *band) forwardFour(x0, x1, x2, x3 []float64) {
	if b.fives {
		for _, x := range [...][]float64{x0, x1, x2, x3} {
			b.blocks.forward(x)
		}
		return
	}
	hb, w := b.hb, b.hb+1
	for i := range b.n {
		r := b.a[i*w : i*w+w]
		lo := int(b.lead[i])
		l := r[lo-i+hb : hb]
		y0, y1, y2, y3 := x0[lo:i], x1[lo:i], x2[lo:i], x3[lo:i]
		y0, y1, y2, y3 = y0[:len(l)], y1[:len(l)], y2[:len(l)], y3[:len(l)]
		var s0, s1, s2, s3 float64
		for k, v := range l {
			s0 += v * y0[k]
			s1 += v * y1[k]
			s2 += v * y2[k]
			s3 += v * y3[k]
		}
		d := r[hb]
		x0[i], x1[i], x2[i], x3[i] = (x0[i]-s0)*d, (x1[i]-s1)*d, (x2[i]-s2)*d, (x3[i]-s3)*d
	}
}

// backwardFour is backward for four right-hand sides.
func (b *band) backwardFour(x0, x1, x2, x3 []float64) {
	if b.fives {
		for _, x := range [...][]float64{x0, x1, x2, x3} {
			b.blocks.backward(x)
		}
		return
	}
	hb, w := b.hb, b.hb+1
	for i := b.n - 1; i >= 0; i-- {
		r := b.a[i*w : i*w+w]
		d := r[hb]
		v0, v1, v2, v3 := x0[i]*d, x1[i]*d, x2[i]*d, x3[i]*d
		x0[i], x1[i], x2[i], x3[i] = v0, v1, v2, v3
		lo := int(b.lead[i])
		l := r[lo-i+hb : hb]
		y0, y1, y2, y3 := x0[lo:i], x1[lo:i], x2[lo:i], x3[lo:i]
		y0, y1, y2, y3 = y0[:len(l)], y1[:len(l)], y2[:len(l)], y3[:len(l)]
		for k, v := range l {
			y0[k] -= v * v0
			y1[k] -= v * v1
			y2[k] -= v * v2
			y3[k] -= v * v3
		}
	}
}
