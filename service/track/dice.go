package track

import (
	"math"
	"math/rand/v2"

	"example.com/courtkin/service/geom"
)

// dice is a source of random numbers with a quick way to normal ones, of which
// an ensemble takes millions.
type dice struct {
	*rand.Rand // for what is drawn seldom

	member int // which of the ensemble is drawn

	src  rand.PCG
	bits uint64
	left uint // bits of bits that are still unused
}

// newDice returns the dice of one member of an ensemble.
func newDice(ensemble uint64, member int) *dice {
	d := &dice{member: member}
	d.src.Seed(ensemble, uint64(member))
	d.Rand = rand.New(&d.src)
	return d
}

// quantileBits is the logarithm to base 2 of the number of quantiles: 256 equally
// likely steps reach 2.9 sd, and every error that a draw shows is a sum of many.
const quantileBits = 8

// quantiles holds the middles of equally likely steps of the standard normal
// distribution, scaled to a variance of exactly 1.
var quantiles = func() (q [1 << quantileBits]float64) {
	n := float64(len(q))
	sum := 0.0
	for i := range q {
		x := math.Sqrt2 * math.Erfinv((2*float64(i)+1)/n-1)
		q[i] = x
		sum += x * x
	}
	scale := 1 / math.Sqrt(sum/n)
	for i := range q {
		q[i] *= scale
	}
	return q
}()

// normal returns a standard normal number.
func (d *dice) normal() float64 {
	if d.left < quantileBits {
		d.bits, d.left = d.src.Uint64(), 64
	}
	v := quantiles[d.bits&(1<<quantileBits-1)]
	d.bits >>= quantileBits
	d.left -= quantileBits
	return v
}

// A course of noise, a number a node, is a run out of a fixed ring of normal numbers from
// a place that is drawn: one random number for a whole course. Two runs share numbers where
// they overlap, but what shares them lies at other nodes: the error at an instant hangs on
// some twenty numbers about it, and that two runs begin within so few of each other is one
// chance in four hundred. Among the members of an ensemble that is lost in the chance
// correlation of 1/√32 which independent numbers have.
const (
	ringBits = 14
	ringMore = 1024 // numbers of the beginning that are held again at the end: the longest run
)

// ring holds the numbers, of mean 0 and variance exactly 1.
var ring = func() []float64 {
	const n = 1 << ringBits
	rng, out := rand.New(rand.NewPCG(0x6e6f697365, 1)), make([]float64, n, n+ringMore)
	var sum, squares float64
	for i := range out {
		x := rng.NormFloat64()
		out[i] = x
		sum += x
		squares += x * x
	}
	mean := sum / n
	scale := 1 / math.Sqrt(squares/n-mean*mean)
	for i := range out {
		out[i] = (out[i] - mean) * scale
	}
	return append(out, out[:ringMore]...)
}()

// run returns n standard normal numbers that are not to be changed; n ≤ ringMore.
func (d *dice) run(n int) []float64 {
	at := d.src.Uint64() >> (64 - ringBits)
	return ring[at : at+uint64(n)]
}

// fill fills out with standard normal numbers.
func (d *dice) fill(out []float64) {
	for len(out) > 0 {
		n := copy(out, d.run(min(len(out), ringMore)))
		out = out[n:]
	}
}

// vector returns three independent normal numbers of the given sd.
func (d *dice) vector(sd float64) geom.Vec3 {
	return geom.Vec3{X: sd * d.normal(), Y: sd * d.normal(), Z: sd * d.normal()}
}
