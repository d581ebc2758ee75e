package track

import (
	"math"
	"slices"
)

// Bands of five unknowns a node, as rods have them, are worked on a node's five rows at a
// time: what is read of one row or of the unknowns serves all five, and their sums do not
// wait for each other.

// findFives finds out whether b is such a band, wide enough to gain by it: all rows of a
// node begin where all of them have room.
func (b *band) findFives() bool {
	if b.hb < 3*5 || b.n%5 != 0 {
		return false
	}
	for i := 0; i < b.n; i += 5 {
		if int(slices.Min(b.lead[i:i+5])) < i+4-b.hb {
			return false
		}
	}
	return true
}

// five are the beginnings of the rows of a node from their common first column lo on, and
// that column's place in them.
type five struct {
	r  [5][]float64 // from column lo to the diagonal and beyond
	lo int
}

// five returns the rows i … i+4.
func (b *band) five(i int) (f five) {
	hb, w := b.hb, b.hb+1
	f.lo = i
	for k := range 5 {
		f.lo = min(f.lo, int(b.lead[i+k]))
	}
	for k := range 5 {
		row := b.a[(i+k)*w : (i+k+1)*w]
		f.r[k] = row[f.lo-i-k+hb:]
	}
	return f
}

// dots are the inner products of x with the beginnings of five rows.
func (f *five) dots(x []float64) (s0, s1, s2, s3, s4 float64) {
	a, b, c, d, e := f.r[0][:len(x)], f.r[1][:len(x)], f.r[2][:len(x)], f.r[3][:len(x)], f.r[4][:len(x)]
	for k, v := range x {
		s0 += v * a[k]
		s1 += v * b[k]
		s2 += v * c[k]
		s3 += v * d[k]
		s4 += v * e[k]
	}
	return s0, s1, s2, s3, s4
}

// factorFives is factor.
func (b *band) factorFives() bool {
	hb, w := b.hb, b.hb+1
	for i := 0; i < b.n; i += 5 {
		f := b.five(i)
		for j := f.lo; j < i; j++ {
			rj := b.a[j*w : j*w+w]
			from := max(f.lo, j-hb)
			g := five{}
			for k := range g.r {
				g.r[k] = f.r[k][from-f.lo:]
			}
			s0, s1, s2, s3, s4 := g.dots(rj[from-j+hb : hb])
			at, d := j-f.lo, rj[hb]
			f.r[0][at] = (f.r[0][at] - s0) * d
			f.r[1][at] = (f.r[1][at] - s1) * d
			f.r[2][at] = (f.r[2][at] - s2) * d
			f.r[3][at] = (f.r[3][at] - s3) * d
			f.r[4][at] = (f.r[4][at] - s4) * d
		}
		for k := range 5 { // the node's own block
			row, m := f.r[k], i-f.lo
			for j := range k {
				row[m+j] = (row[m+j] - inner(row[:m+j], f.r[j])) * f.r[j][m+j]
			}
			d := row[m+k] - inner(row[:m+k], row)
			if !(d > 0) {
				return false
			}
			row[m+k] = 1 / math.Sqrt(d)
		}
	}
	return true
}

// forwardFives is forward.
func (b *band) forwardFives(x []float64) {
	for i := 0; i < b.n; i += 5 {
		f := b.five(i)
		m := i - f.lo
		y := x[i : i+5]
		s0, s1, s2, s3, s4 := f.dots(x[f.lo:i])
		for k, s := range [5]float64{s0, s1, s2, s3, s4} {
			y[k] = (y[k] - s - inner(f.r[k][m:m+k], y)) * f.r[k][m+k]
		}
	}
}

// backwardFives is backward.
func (b *band) backwardFives(x []float64) {
	for i := b.n - 5; i >= 0; i -= 5 {
		f := b.five(i)
		m := i - f.lo
		y := x[i : i+5]
		for k := 4; k >= 0; k-- {
			y[k] *= f.r[k][m+k]
			for j, v := range f.r[k][m : m+k] {
				y[j] -= v * y[k]
			}
		}
		y0, y1, y2, y3, y4 := y[0], y[1], y[2], y[3], y[4]
		to := x[f.lo:i]
		r0, r1, r2, r3, r4 := f.r[0][:len(to)], f.r[1][:len(to)], f.r[2][:len(to)], f.r[3][:len(to)], f.r[4][:len(to)]
		for k := range to {
			to[k] -= r0[k]*y0 + r1[k]*y1 + (r2[k]*y2 + r3[k]*y3 + r4[k]*y4)
		}
	}
}

// multiplyFives is multiply.
func (b *band) multiplyFives(z, x []float64) {
	for i := 0; i < b.n; i += 5 {
		f := b.five(i)
		m := i - f.lo
		u := z[i : i+5]
		s0, s1, s2, s3, s4 := f.dots(z[f.lo:i])
		for k, s := range [5]float64{s0, s1, s2, s3, s4} {
			x[i+k] = s + inner(f.r[k][m:m+k], u) + u[k]/f.r[k][m+k]
		}
	}
}
