package track

import (
	"math"
	"slices"
)

// Bands of five unknowns a node, as rods have them, or of a multiple of five, as the lift
// has them, are worked in blocks of five rows by five columns: a block's numbers lie side
// by side, what is read of one row serves five sums, and these do not wait for each other.

// block is five rows by five columns of a band. On the diagonal, after factor, the places
// above the diagonal are not read and those on it hold 1/L_ii, as in a band.
type block [5][5]float64

// fives is a band in blocks. Row p of them holds blocks (p, first[p]) … (p, p), side by side.
type fives struct {
	first  []int32 // of each row of blocks, the column of its first that is not zero
	ends   []int32 // of each row, where it ends in blocks
	blocks []block
}

// row returns the blocks (p, first[p]) … (p, p), and first[p].
func (f *fives) row(p int) ([]block, int) {
	q, end := int(f.first[p]), int(f.ends[p])
	return f.blocks[end-1-p+q : end], q
}

// at returns block (p, q), first[p] ≤ q ≤ p.
func (f *fives) at(p, q int) *block { return &f.blocks[int(f.ends[p])-1-p+q] }

// size makes room for the blocks of n rows, whose first columns are told by row.
func (f *fives) size(n int, first func(p int) int) {
	if cap(f.first) < n {
		f.first, f.ends = make([]int32, n), make([]int32, n)
	}
	f.first, f.ends = f.first[:n], f.ends[:n]
	end := 0
	for p := range f.first {
		q := first(p)
		end += p - q + 1
		f.first[p], f.ends[p] = int32(q), int32(end)
	}
	if cap(f.blocks) < end {
		f.blocks = make([]block, end)
	}
	f.blocks = f.blocks[:end]
}

// lay makes a zero matrix of n rows that reach back by the given number of blocks, row wide
// by one more.
func (f *fives) lay(n, reach, wide int) {
	f.size(n, func(p int) int {
		if p == wide {
			return max(0, p-reach-1)
		}
		return max(0, p-reach)
	})
	clear(f.blocks)
}

// diagonal is band.diagonal.
func (f *fives) diagonal(v float64) {
	for _, end := range f.ends {
		d := &f.blocks[end-1]
		for k := range d {
			d[k][k] += v
		}
	}
}

// row32 is band.row32.
func (f *fives) row32(idx []int32, c []float64, w float64) {
	c = c[:len(idx)]
	for p, i := range idx {
		wc := w * c[p]
		row, lo := f.row(int(i / 5))
		for q, v := range c[:p+1] {
			j := int(idx[q])
			row[j/5-lo][i%5][j%5] += wc * v
		}
	}
}

// intoFives copies the band into blocks where it has fives of rows and is wide enough to
// gain by it; false elsewhere.
func (b *band) intoFives() bool {
	if b.hb < 3*5 || b.n%5 != 0 {
		return false
	}
	n, w, f := b.n/5, b.hb+1, &b.blocks
	f.size(n, func(p int) int { return int(slices.Min(b.lead[5*p:5*p+5])) / 5 })
	for p := range n {
		row, q := f.row(p)
		for k := range 5 {
			i := 5*p + k
			a, from := b.a[i*w:(i+1)*w], 5*q-i+b.hb // of column 5q
			for c := range row[:p-q] {
				if from >= 0 {
					row[c][k] = *(*[5]float64)(a[from:])
				} else { // what lies before the band is zero
					row[c][k] = [5]float64{}
					copy(row[c][k][min(-from, 5):], a[:max(5+from, 0)])
				}
				from += 5
			}
			row[p-q][k] = [5]float64{}
			copy(row[p-q][k][:k+1], a[b.hb-k:])
		}
	}
	return true
}

// less takes a·bᵀ from d.
func (d *block) less(a, b *block) {
	for r := range d {
		x, y := &a[r], &d[r]
		x0, x1, x2, x3, x4 := x[0], x[1], x[2], x[3], x[4]
		y[0] -= x0*b[0][0] + x1*b[0][1] + (x2*b[0][2] + x3*b[0][3]) + x4*b[0][4]
		y[1] -= x0*b[1][0] + x1*b[1][1] + (x2*b[1][2] + x3*b[1][3]) + x4*b[1][4]
		y[2] -= x0*b[2][0] + x1*b[2][1] + (x2*b[2][2] + x3*b[2][3]) + x4*b[2][4]
		y[3] -= x0*b[3][0] + x1*b[3][1] + (x2*b[3][2] + x3*b[3][3]) + x4*b[3][4]
		y[4] -= x0*b[4][0] + x1*b[4][1] + (x2*b[4][2] + x3*b[4][3]) + x4*b[4][4]
	}
}

// lessSquare takes the lower triangle of a·aᵀ from d's.
func (d *block) lessSquare(a *block) {
	a0, a1, a2, a3, a4 := &a[0], &a[1], &a[2], &a[3], &a[4]
	d[0][0] -= fiveDot(a0, a0)
	d[1][0] -= fiveDot(a1, a0)
	d[1][1] -= fiveDot(a1, a1)
	d[2][0] -= fiveDot(a2, a0)
	d[2][1] -= fiveDot(a2, a1)
	d[2][2] -= fiveDot(a2, a2)
	d[3][0] -= fiveDot(a3, a0)
	d[3][1] -= fiveDot(a3, a1)
	d[3][2] -= fiveDot(a3, a2)
	d[3][3] -= fiveDot(a3, a3)
	d[4][0] -= fiveDot(a4, a0)
	d[4][1] -= fiveDot(a4, a1)
	d[4][2] -= fiveDot(a4, a2)
	d[4][3] -= fiveDot(a4, a3)
	d[4][4] -= fiveDot(a4, a4)
}

func fiveDot(a, b *[5]float64) float64 {
	return a[0]*b[0] + a[1]*b[1] + (a[2]*b[2] + a[3]*b[3]) + a[4]*b[4]
}

// over replaces d by d·L⁻ᵀ, L a factored block of the diagonal.
func (d *block) over(l *block) {
	for r := range d {
		y := &d[r]
		y[0] *= l[0][0]
		y[1] = (y[1] - y[0]*l[1][0]) * l[1][1]
		y[2] = (y[2] - y[0]*l[2][0] - y[1]*l[2][1]) * l[2][2]
		y[3] = (y[3] - y[0]*l[3][0] - y[1]*l[3][1] - y[2]*l[3][2]) * l[3][3]
		y[4] = (y[4] - y[0]*l[4][0] - y[1]*l[4][1] - y[2]*l[4][2] - y[3]*l[4][3]) * l[4][4]
	}
}

// factor replaces a block of the diagonal by its Cholesky factor.
func (d *block) factor() bool {
	a, b, c, e, f := &d[0], &d[1], &d[2], &d[3], &d[4]
	if !(a[0] > 0) {
		return false
	}
	a[0] = 1 / math.Sqrt(a[0])
	b[0] *= a[0]
	c[0] *= a[0]
	e[0] *= a[0]
	f[0] *= a[0]
	b[1] -= b[0] * b[0]
	if !(b[1] > 0) {
		return false
	}
	b[1] = 1 / math.Sqrt(b[1])
	c[1] = (c[1] - c[0]*b[0]) * b[1]
	e[1] = (e[1] - e[0]*b[0]) * b[1]
	f[1] = (f[1] - f[0]*b[0]) * b[1]
	c[2] -= c[0]*c[0] + c[1]*c[1]
	if !(c[2] > 0) {
		return false
	}
	c[2] = 1 / math.Sqrt(c[2])
	e[2] = (e[2] - e[0]*c[0] - e[1]*c[1]) * c[2]
	f[2] = (f[2] - f[0]*c[0] - f[1]*c[1]) * c[2]
	e[3] -= e[0]*e[0] + e[1]*e[1] + e[2]*e[2]
	if !(e[3] > 0) {
		return false
	}
	e[3] = 1 / math.Sqrt(e[3])
	f[3] = (f[3] - f[0]*e[0] - f[1]*e[1] - f[2]*e[2]) * e[3]
	f[4] -= f[0]*f[0] + f[1]*f[1] + (f[2]*f[2] + f[3]*f[3])
	if !(f[4] > 0) {
		return false
	}
	f[4] = 1 / math.Sqrt(f[4])
	return true
}

// factor is band.factor.
func (f *fives) factor() bool {
	for p := range f.first {
		row, lo := f.row(p)
		own := &row[p-lo]
		for q := lo; q < p; q++ {
			d := &row[q-lo]
			other, from := f.row(q)
			for k := max(lo, from); k < q; k++ {
				d.less(&row[k-lo], &other[k-from])
			}
			d.over(&other[q-from])
			own.lessSquare(d)
		}
		if !own.factor() {
			return false
		}
	}
	return true
}

// forward is band.forward.
func (f *fives) forward(x []float64) {
	for p := range f.first {
		row, lo := f.row(p)
		y := (*[5]float64)(x[5*p:])
		y0, y1, y2, y3, y4 := y[0], y[1], y[2], y[3], y[4]
		for k := range row[:p-lo] {
			l, v := &row[k], (*[5]float64)(x[5*(lo+k):])
			y0 -= l[0][0]*v[0] + l[0][1]*v[1] + (l[0][2]*v[2] + l[0][3]*v[3]) + l[0][4]*v[4]
			y1 -= l[1][0]*v[0] + l[1][1]*v[1] + (l[1][2]*v[2] + l[1][3]*v[3]) + l[1][4]*v[4]
			y2 -= l[2][0]*v[0] + l[2][1]*v[1] + (l[2][2]*v[2] + l[2][3]*v[3]) + l[2][4]*v[4]
			y3 -= l[3][0]*v[0] + l[3][1]*v[1] + (l[3][2]*v[2] + l[3][3]*v[3]) + l[3][4]*v[4]
			y4 -= l[4][0]*v[0] + l[4][1]*v[1] + (l[4][2]*v[2] + l[4][3]*v[3]) + l[4][4]*v[4]
		}
		l := &row[p-lo]
		y0 *= l[0][0]
		y1 = (y1 - l[1][0]*y0) * l[1][1]
		y2 = (y2 - l[2][0]*y0 - l[2][1]*y1) * l[2][2]
		y3 = (y3 - l[3][0]*y0 - l[3][1]*y1 - l[3][2]*y2) * l[3][3]
		y4 = (y4 - l[4][0]*y0 - l[4][1]*y1 - l[4][2]*y2 - l[4][3]*y3) * l[4][4]
		*y = [5]float64{y0, y1, y2, y3, y4}
	}
}

// backward is band.backward.
func (f *fives) backward(x []float64) {
	for p := len(f.first) - 1; p >= 0; p-- {
		row, lo := f.row(p)
		y, l := (*[5]float64)(x[5*p:]), &row[p-lo]
		y4 := y[4] * l[4][4]
		y3 := (y[3] - l[4][3]*y4) * l[3][3]
		y2 := (y[2] - l[4][2]*y4 - l[3][2]*y3) * l[2][2]
		y1 := (y[1] - l[4][1]*y4 - l[3][1]*y3 - l[2][1]*y2) * l[1][1]
		y0 := (y[0] - l[4][0]*y4 - l[3][0]*y3 - l[2][0]*y2 - l[1][0]*y1) * l[0][0]
		*y = [5]float64{y0, y1, y2, y3, y4}
		for k := range row[:p-lo] {
			l, v := &row[k], (*[5]float64)(x[5*(lo+k):])
			v[0] -= l[0][0]*y0 + l[1][0]*y1 + (l[2][0]*y2 + l[3][0]*y3) + l[4][0]*y4
			v[1] -= l[0][1]*y0 + l[1][1]*y1 + (l[2][1]*y2 + l[3][1]*y3) + l[4][1]*y4
			v[2] -= l[0][2]*y0 + l[1][2]*y1 + (l[2][2]*y2 + l[3][2]*y3) + l[4][2]*y4
			v[3] -= l[0][3]*y0 + l[1][3]*y1 + (l[2][3]*y2 + l[3][3]*y3) + l[4][3]*y4
			v[4] -= l[0][4]*y0 + l[1][4]*y1 + (l[2][4]*y2 + l[3][4]*y3) + l[4][4]*y4
		}
	}
}

// multiply is band.multiply.
func (f *fives) multiply(z, x []float64) {
	for p := range f.first {
		row, lo := f.row(p)
		var y0, y1, y2, y3, y4 float64
		for k := range row[:p-lo] {
			l, v := &row[k], (*[5]float64)(z[5*(lo+k):])
			y0 += fiveDot(&l[0], v)
			y1 += fiveDot(&l[1], v)
			y2 += fiveDot(&l[2], v)
			y3 += fiveDot(&l[3], v)
			y4 += fiveDot(&l[4], v)
		}
		l, v := &row[p-lo], (*[5]float64)(z[5*p:])
		y0 += v[0] / l[0][0]
		y1 += l[1][0]*v[0] + v[1]/l[1][1]
		y2 += l[2][0]*v[0] + l[2][1]*v[1] + v[2]/l[2][2]
		y3 += l[3][0]*v[0] + l[3][1]*v[1] + (l[3][2]*v[2] + v[3]/l[3][3])
		y4 += l[4][0]*v[0] + l[4][1]*v[1] + (l[4][2]*v[2] + l[4][3]*v[3]) + v[4]/l[4][4]
		*(*[5]float64)(x[5*p:]) = [5]float64{y0, y1, y2, y3, y4}
	}
}

// logDet is band.logDet.
func (f *fives) logDet() float64 {
	var d product
	for p := range f.first {
		l := &f.blocks[f.ends[p]-1]
		for k := range l {
			d.times(l[k][k])
		}
	}
	return -2 * d.log()
}
