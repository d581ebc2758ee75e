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

// fill fills out with standard normal numbers.
func (d *dice) fill(out []float64) {
	const each = 64 / quantileBits
	for len(out) >= each {
		bits := d.src.Uint64()
		for k := range out[:each] {
			out[k] = quantiles[bits&(1<<quantileBits-1)]
			bits >>= quantileBits
		}
		out = out[each:]
	}
	for k := range out {
		out[k] = d.normal()
	}
}

// vector returns three independent normal numbers of the given sd.
func (d *dice) vector(sd float64) geom.Vec3 {
	return geom.Vec3{X: sd * d.normal(), Y: sd * d.normal(), Z: sd * d.normal()}
}
