package track

import (
	"math"

	"example.com/courtkin/service/geom"
)

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
	fresh []float64 // … fresh times normal ones
	root  []float64 // dims×dims a node: what the lasting part is of those numbers; nil: nothing lasts
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
	s.keep, s.fresh = make([]float64, len(t)), make([]float64, len(t))
	s.fresh[0] = 1
	for i := 1; i < len(t); i++ {
		s.keep[i] = math.Exp((t[i-1] - t[i]) / last.memory)
		s.fresh[i] = math.Sqrt(1 - s.keep[i]*s.keep[i])
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
	rng.fill(z)
	d := s.dims
	var u [mostUnknowns]float64
	for i, keep := range s.keep {
		fresh, z, r, v := s.fresh[i], z[i*d:(i+1)*d], s.root[i*d*d:(i+1)*d*d], s.v[i*d:(i+1)*d]
		for k, n := range z {
			u[k] = keep*u[k] + fresh*n
		}
		if d == 3 {
			v, r := (*[3]float64)(v), (*[9]float64)(r)
			v[0] = r[0]*u[0] + r[1]*u[1] + r[2]*u[2]
			v[1] = r[3]*u[0] + r[4]*u[1] + r[5]*u[2]
			v[2] = r[6]*u[0] + r[7]*u[1] + r[8]*u[2]
			continue
		}
		for len(r) >= 5 && len(v) > 0 {
			v[0] = fiveDot((*[5]float64)(r), &u)
			r, v = r[5:], v[1:]
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

	even     [][3]float64 // a node: Σ (1, a, a²)/v of sights of places a metres along; nil: there were none
	evenGain [][]float64  // for each strand a number a node: Σ 1/v times the sd of what lasts
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

// addPlace is add for the three lines of a sight of a place.
func (b *blockErrors) addPlace(node, strand int, along, v, slow float64) {
	if b.even == nil {
		b.even = make([][3]float64, len(b.info)/(b.dims*b.dims))
	}
	for len(b.evenGain) <= strand {
		b.evenGain = append(b.evenGain, nil)
	}
	if b.evenGain[strand] == nil {
		b.evenGain[strand] = make([]float64, len(b.even))
	}
	m := &b.even[node]
	m[0] += 1 / v
	m[1] += along / v
	m[2] += along * along / v
	b.evenGain[strand][node] += slow / v
}

// spread adds what addPlace summed up, e1 and e2 being the frames of a rod.
func (b *blockErrors) spread(e1, e2 []geom.Vec3) {
	const d = rodDims
	for n, m := range b.even {
		u, v := e1[n], e2[n]
		info := (*[d * d]float64)(b.info[n*d*d:])
		info[0] += m[0]
		info[d+1] += m[0]
		info[2*d+2] += m[0]
		info[3*d] += m[1] * u.X
		info[3*d+1] += m[1] * u.Y
		info[3*d+2] += m[1] * u.Z
		info[3*d+3] += m[2]
		info[4*d] += m[1] * v.X
		info[4*d+1] += m[1] * v.Y
		info[4*d+2] += m[1] * v.Z
		info[4*d+4] += m[2]
	}
	for s, gains := range b.evenGain {
		along := b.strands[s].along
		for n, w := range gains {
			u, v, a := e1[n], e2[n], w*along
			gain := (*[3 * d]float64)(b.gain[s][3*n*d:])
			gain[0] += w
			gain[3] += a * u.X
			gain[4] += a * v.X
			gain[d+1] += w
			gain[d+3] += a * u.Y
			gain[d+4] += a * v.Y
			gain[2*d+2] += w
			gain[2*d+3] += a * u.Z
			gain[2*d+4] += a * v.Z
		}
	}
}

// noGain is the variance of the pull of what lasts, as a share of the largest, that stands
// in where fewer strands are seen than there are unknowns.
const noGain = 1e-12

// roots writes for each node a root R of the covariance of what lasts, R·Rᵀ = A⁻¹·G·A⁻¹, A the
// information and G = Σ g·gᵀ of the gains; false where the sights leave the unknowns open.
func (b *blockErrors) roots(out []float64) bool {
	d := b.dims
	b.thicken(b.info, d*d)
	for _, g := range b.gain {
		b.thicken(g, 3*d)
	}
	for n := range len(b.info) / (d * d) {
		var info, pull block
		for k := d; k < mostUnknowns; k++ {
			info[k][k], pull[k][k] = 1, 1
		}
		most := 0.0
		for i := range d {
			copy(info[i][:i+1], b.info[n*d*d+i*d:])
			for _, g := range b.gain {
				g = g[3*n*d : 3*(n+1)*d]
				for j := range i + 1 {
					pull[i][j] += g[i]*g[j] + g[d+i]*g[d+j] + g[2*d+i]*g[2*d+j]
				}
			}
			most = math.Max(most, pull[i][i])
		}
		for i := range d {
			pull[i][i] += noGain * most
		}
		if !info.factor() || !pull.factor() {
			return false
		}
		for j := range d {
			var x [mostUnknowns]float64
			x[j] = 1 / pull[j][j]
			for i := j + 1; i < d; i++ {
				x[i] = pull[i][j]
			}
			info.solve(&x)
			for i := range d {
				out[n*d*d+i*d+j] = x[i]
			}
		}
	}
	return true
}

// solve solves L·Lᵀ·y = x in place, d being L as factor leaves it.
func (d *block) solve(x *[5]float64) {
	x[0] *= d[0][0]
	x[1] = (x[1] - d[1][0]*x[0]) * d[1][1]
	x[2] = (x[2] - d[2][0]*x[0] - d[2][1]*x[1]) * d[2][2]
	x[3] = (x[3] - d[3][0]*x[0] - d[3][1]*x[1] - d[3][2]*x[2]) * d[3][3]
	x[4] = (x[4] - d[4][0]*x[0] - d[4][1]*x[1] - d[4][2]*x[2] - d[4][3]*x[3]) * d[4][4]
	x[4] *= d[4][4]
	x[3] = (x[3] - d[4][3]*x[4]) * d[3][3]
	x[2] = (x[2] - d[4][2]*x[4] - d[3][2]*x[3]) * d[2][2]
	x[1] = (x[1] - d[4][1]*x[4] - d[3][1]*x[3] - d[2][1]*x[2]) * d[1][1]
	x[0] = (x[0] - d[4][0]*x[4] - d[3][0]*x[3] - d[2][0]*x[2] - d[1][0]*x[1]) * d[0][0]
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
