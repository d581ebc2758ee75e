package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

// band is a symmetric positive-definite matrix of half-bandwidth hb, held by
// its lower band, row-major: element (i, j), i−hb ≤ j ≤ i, at a[i·(hb+1) + j−i+hb].
// It is the information matrix (inverse covariance) of a Gaussian over motion
// at the nodes of a grid.
type band struct {
	n, hb  int
	a      []float64
	fives  bool    // the matrix, or after factor its factor, is held in blocks
	blocks fives   // those, or memory for them
	lead   []int32 // after factor: the column of each row's first element that is not zero
}

// reset makes b an n×n zero matrix of half-bandwidth hb, keeping its memory. Beyond 4 it is
// held with one more, so that two rows reach equally far (factorTwo).
func (b *band) reset(n, hb int) {
	if hb > 4 {
		hb++
	}
	b.n, b.hb, b.fives = n, hb, false
	size := n * (hb + 1)
	if cap(b.a) < size {
		b.a = make([]float64, size)
	}
	b.a = b.a[:size]
	clear(b.a)
}

// resetFives makes b a zero matrix of n nodes of five unknowns, held in blocks from the
// beginning, keeping its memory: no node hangs together with one more than reach before it,
// and node wide, where it is one, with one more.
func (b *band) resetFives(n, reach, wide int) {
	b.n, b.hb, b.fives = 5*n, 5*(reach+1)-1, true
	b.blocks.lay(n, reach, wide)
}

// add adds v to element (i, j) and, by symmetry, (j, i); |i−j| ≤ hb.
func (b *band) add(i, j int, v float64) {
	if j > i {
		i, j = j, i
	}
	b.a[i*(b.hb+1)+j-i+b.hb] += v
}

// diagonal adds v to every element of the diagonal.
func (b *band) diagonal(v float64) {
	if b.fives {
		b.blocks.diagonal(v)
		return
	}
	for k := b.hb; k < len(b.a); k += b.hb + 1 {
		b.a[k] += v
	}
}

// addOuter adds v·c·cᵀ.
func addOuter(m *sym3, c geom.Vec3, v float64) {
	x, y, z := v*c.X, v*c.Y, v*c.Z
	m[0] += x * c.X
	m[1] += y * c.X
	m[2] += y * c.Y
	m[3] += z * c.X
	m[4] += z * c.Y
	m[5] += z * c.Z
}

// addBlocks adds w·wᵀ ⊗ m at the four nodes from first on, in a matrix of three
// unknowns a node.
func (b *band) addBlocks(first int, w *[4]float64, m *sym3) {
	hb := b.hb
	for p := range 4 {
		row := 3 * (first + p) // element (i, j) stands at (i+1)·hb + j
		for q := range p {
			f, col := w[p]*w[q], 3*(first+q)
			r0 := (*[3]float64)(b.a[(row+1)*hb+col:])
			r1 := (*[3]float64)(b.a[(row+2)*hb+col:])
			r2 := (*[3]float64)(b.a[(row+3)*hb+col:])
			r0[0] += f * m[0]
			r0[1] += f * m[1]
			r0[2] += f * m[3]
			r1[0] += f * m[1]
			r1[1] += f * m[2]
			r1[2] += f * m[4]
			r2[0] += f * m[3]
			r2[1] += f * m[4]
			r2[2] += f * m[5]
		}
		f := w[p] * w[p]
		k := (row + 1) * hb
		b.a[k+row] += f * m[0]
		b.a[k+hb+row] += f * m[1]
		b.a[k+hb+row+1] += f * m[2]
		b.a[k+2*hb+row] += f * m[3]
		b.a[k+2*hb+row+1] += f * m[4]
		b.a[k+2*hb+row+2] += f * m[5]
	}
}

// solveFlat solves for the three unknowns of each node, in room.
func (b *band) solveFlat(x []geom.Vec3, room *[]float64) {
	if cap(*room) < b.n {
		*room = make([]float64, b.n)
	}
	flat := (*room)[:b.n]
	for i, v := range x {
		flat[3*i], flat[3*i+1], flat[3*i+2] = v.X, v.Y, v.Z
	}
	b.solve(flat)
	for i := range x {
		x[i] = geom.Vec3{X: flat[3*i], Y: flat[3*i+1], Z: flat[3*i+2]}
	}
}

// row32 adds the information of one scalar observation with coefficients c at
// unknowns idx, rising, and weight w (1/variance): w·c·cᵀ.
func (b *band) row32(idx []int32, c []float64, w float64) {
	if b.fives {
		b.blocks.row32(idx, c, w)
		return
	}
	c = c[:len(idx)]
	for p, i := range idx {
		wc := w * c[p]
		row := b.a[(int(i)+1)*b.hb:] // element (i, j) stands at (i+1)·hb + j
		for q, v := range c[:p+1] {
			row[idx[q]] += wc * v
		}
	}
}

// row is row32 for plain indices.
func (b *band) row(idx []int, c []float64, w float64) {
	for p, i := range idx {
		wc := w * c[p]
		for q := 0; q <= p; q++ {
			b.add(i, idx[q], wc*c[q])
		}
	}
}

// factor replaces the matrix by its Cholesky factor L (b = L·Lᵀ) and reports
// whether it was positive definite. The places of the diagonal then hold 1/L_ii.
//
// Zeros before the first element of a row stay zeros, and nothing is spent on
// them (George & Liu 1981, Computer Solution of Large Sparse Positive Definite
// Systems, ch. 4): several unknowns a node leave a third of the band empty.
func (b *band) factor() bool {
	if b.fives {
		return b.blocks.factor()
	}
	hb, w := b.hb, b.hb+1
	b.findLead()
	if b.fives = b.intoFives(); b.fives {
		return b.blocks.factor()
	}
	i := 0
	for ; i+1 < b.n; i += 2 {
		lo := min(int(b.lead[i]), int(b.lead[i+1]))
		if lo > i-hb {
			if !b.factorTwo(i, lo) {
				return false
			}
			continue
		}
		if !b.factorRow(b.a[i*w:i*w+w], i) || !b.factorRow(b.a[(i+1)*w:(i+2)*w], i+1) {
			return false
		}
	}
	return i == b.n || b.factorRow(b.a[i*w:i*w+w], i)
}

// findLead finds the first element of each row that is not zero.
func (b *band) findLead() {
	hb, w := b.hb, b.hb+1
	if cap(b.lead) < b.n {
		b.lead = make([]int32, b.n)
	}
	b.lead = b.lead[:b.n]
	for i := range b.lead {
		r := b.a[i*w : i*w+hb]
		k := max(0, hb-i)
		for k < hb && r[k] == 0 {
			k++
		}
		b.lead[i] = int32(i - hb + k)
	}
}

// inner is the inner product of x and the beginning of y, in four sums that do not
// wait for each other.
func inner(x, y []float64) float64 {
	y = y[:len(x)]
	var s0, s1, s2, s3 float64
	for len(x) >= 4 && len(y) >= 4 {
		s0 += x[0] * y[0]
		s1 += x[1] * y[1]
		s2 += x[2] * y[2]
		s3 += x[3] * y[3]
		x, y = x[4:], y[4:]
	}
	for k, v := range x {
		s0 += v * y[k]
	}
	return s0 + s1 + (s2 + s3)
}

// forward solves L·y = x in place (after factor).
func (b *band) forward(x []float64) {
	if b.fives {
		b.blocks.forward(x)
		return
	}
	hb, w := b.hb, b.hb+1
	for i := range b.n {
		r := b.a[i*w : i*w+w]
		lo := int(b.lead[i])
		x[i] = (x[i] - inner(r[lo-i+hb:hb], x[lo:])) * r[hb]
	}
}

// backward solves Lᵀ·y = x in place (after factor). A
// standard normal x gives a draw from the zero-mean Gaussian whose information
// matrix this was.
func (b *band) backward(x []float64) {
	if b.fives {
		b.blocks.backward(x)
		return
	}
	hb, w := b.hb, b.hb+1
	for i := b.n - 1; i >= 0; i-- {
		r := b.a[i*w : i*w+w]
		x[i] *= r[hb]
		xi := x[i]
		lo := int(b.lead[i])
		y := x[lo:i]
		for k, v := range r[lo-i+hb : hb] {
			y[k] -= v * xi
		}
	}
}

// multiply writes L·z to x (after factor).
func (b *band) multiply(z, x []float64) {
	if b.fives {
		b.blocks.multiply(z, x)
		return
	}
	hb, w := b.hb, b.hb+1
	for i := range b.n {
		r := b.a[i*w : i*w+w]
		lo := int(b.lead[i])
		x[i] = inner(r[lo-i+hb:hb], z[lo:]) + z[i]/r[hb]
	}
}

// solve solves (L·Lᵀ)·y = x in place (after factor).
func (b *band) solve(x []float64) {
	b.forward(x)
	b.backward(x)
}

// logDet returns the logarithm of the determinant (after factor).
func (b *band) logDet() float64 {
	if b.fives {
		return b.blocks.logDet()
	}
	var d product
	for i := range b.n {
		d.times(b.a[i*(b.hb+1)+b.hb])
	}
	return -2 * d.log()
}

// product is a product of positive numbers that may leave the range of a
// float64: its logarithm is wanted, and one of a product costs less than many.
type product struct {
	logs, p float64
	begun   bool
}

func (p *product) times(v float64) {
	if p.p *= v; !(p.p > 1e-150 && p.p < 1e150) {
		p.fold(v)
	}
}

// fold takes the logarithm of a product that leaves the range; it begins one by its first factor v.
func (p *product) fold(v float64) {
	if !p.begun {
		p.begun, p.p = true, v
	}
	if p.p < 1e-150 || p.p > 1e150 {
		p.logs += math.Log(p.p)
		p.p = 1
	}
}

func (p *product) log() float64 {
	if !p.begun {
		return 0
	}
	return p.logs + math.Log(p.p)
}
