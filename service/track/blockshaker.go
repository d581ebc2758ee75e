package track

import "math"

// blockShaker draws errors of a solve of several unknowns a node without going through
// its sights: shaker for unknowns that hang together.
//
// With H the lines of the sights, W their weights and P the prior's information the solve
// is A = P + HᵀWH. White errors and the prior's own pull with a banded covariance C. The
// lasting errors, as they show in the unknowns of a node, are a first-order course v, drawn
// at the nodes and read between them as the solution is; it pulls with (A − P)·v. A draw is
// v + A⁻¹(M·z − P·v), M·Mᵀ = C, z normal.
type blockShaker struct {
	dims  int
	pulls *band     // M
	keep  []float64 // the numbers behind the lasting part at a node are keep times those before, plus …
	root  []float64 // dims×dims a node, lower triangles: what the lasting part is of those numbers; nil: nothing lasts
	z, v  []float64
}

// newBlockShaker takes the covariance of the pulls, which it factors, and what lasts; false
// where a node's lasting part is not to be told.
func newBlockShaker(dims int, pulls *band, t []float64, last *blockErrors) (*blockShaker, bool) {
	s := &blockShaker{dims: dims, pulls: pulls, z: make([]float64, pulls.n), v: make([]float64, pulls.n)}
	if !pulls.factor() {
		return nil, false
	}
	if last.memory == 0 {
		return s, true
	}
	s.keep = make([]float64, len(t))
	for i := 1; i < len(t); i++ {
		s.keep[i] = math.Exp((t[i-1] - t[i]) / last.memory)
	}
	s.root = make([]float64, len(t)*dims*dims)
	return s, last.roots(s.root)
}

// draw writes the errors of a draw into x. prior adds to x the pull of minus the prior's
// information times v.
func (s *blockShaker) draw(rng *dice, fac *band, x []float64, prior func(v, x []float64)) {
	z := s.z
	rng.fill(z)
	s.pulls.multiply(z, x)
	if s.root == nil {
		fac.solve(x)
		return
	}
	d := s.dims
	for i, keep := range s.keep {
		fresh := math.Sqrt(1 - keep*keep)
		u, r, v := z[i*d:(i+1)*d], s.root[i*d*d:(i+1)*d*d], s.v[i*d:(i+1)*d]
		for k := range u {
			u[k] = fresh * rng.normal()
			if i > 0 {
				u[k] += keep * z[(i-1)*d+k]
			}
			v[k] = inner(r[k*d:k*d+k+1], u)
		}
	}
	prior(s.v, x)
	fac.solve(x)
	for i, v := range s.v {
		x[i] += v
	}
}

// blockErrors sums up what sights near each node say of its unknowns, and how what lasts
// of their errors, one course for each strand and scalar, shows in them.
type blockErrors struct {
	dims    int
	memory  float64 // s
	strands []strand
	info    []float64   // dims×dims a node, lower triangles
	gain    [][]float64 // for each strand 3×dims a node: Σ c/v times the sd of what lasts
}

// mostUnknowns is the largest number of unknowns a node.
const mostUnknowns = rodDims

// newBlockErrors returns sums for n nodes.
func newBlockErrors(dims, n int) *blockErrors {
	return &blockErrors{dims: dims, info: make([]float64, n*dims*dims)}
}

// strand returns the number of a sight's strand.
func (b *blockErrors) strand(s *sight, along float64) int {
	b.memory = math.Max(b.memory, s.h.memory)
	if s.h.slow == 0 {
		b.memory = 0
	}
	key := strand{along, s.eye, s.kind}
	for k := range b.strands {
		if b.strands[k] == key {
			return k
		}
	}
	b.strands = append(b.strands, key)
	b.gain = append(b.gain, make([]float64, len(b.info)/b.dims*3))
	return len(b.strands) - 1
}

// add adds a line with the coefficients c of a node's unknowns and the variance v, of which
// the errors of a strand's scalar last with the sd slow.
func (b *blockErrors) add(node, strand, scalar int, c *[mostUnknowns]float64, v, slow float64) {
	d := b.dims
	info := b.info[node*d*d : (node+1)*d*d]
	gain := b.gain[strand][(3*node+scalar)*d:][:d]
	for i := range d {
		f := c[i] / v
		gain[i] += slow * f
		for j := range i + 1 {
			info[i*d+j] += f * c[j]
		}
	}
}

// thinShare is the share of the nodes' mean that stands in where a node has no sights.
const thinShare = 0.02

// roots writes for each node the Cholesky factor of the covariance of what lasts; false where
// the sights leave the unknowns open.
func (b *blockErrors) roots(out []float64) bool {
	d := b.dims
	b.thicken(b.info, d*d)
	for _, g := range b.gain {
		b.thicken(g, 3*d)
	}
	var info, root band // of half-bandwidth d: five unknowns are not a path's
	var x [mostUnknowns]float64
	for n := range len(b.info) / (d * d) {
		info.reset(d, d)
		root.reset(d, d)
		for i := range d {
			for j := range i + 1 {
				info.add(i, j, b.info[n*d*d+i*d+j])
			}
		}
		if !info.factor() {
			return false
		}
		for _, g := range b.gain {
			for k := range 3 {
				copy(x[:d], g[(3*n+k)*d:])
				info.solve(x[:d])
				for i := range d {
					for j := range i + 1 {
						root.add(i, j, x[i]*x[j])
					}
				}
			}
		}
		for i := range d {
			root.add(i, i, 1e-18) // where fewer strands are seen than there are unknowns
		}
		if !root.factor() {
			return false
		}
		for i := range d {
			for j := range i {
				out[n*d*d+i*d+j] = root.at(i, j)
			}
			out[n*d*d+i*d+i] = 1 / root.at(i, i)
		}
	}
	return true
}

// thicken adds a small share of the mean over the nodes to each node's m sums.
func (b *blockErrors) thicken(sums []float64, m int) {
	n := len(sums) / m
	for k := range m {
		mean := 0.0
		for i := k; i < len(sums); i += m {
			mean += sums[i] / float64(n)
		}
		for i := k; i < len(sums); i += m {
			sums[i] += thinShare * mean
		}
	}
}
