package swing

import (
	"math"

	"example.com/courtkin/service/body"
)

// A phone's stream whose slow motion nobody stated is followed in several lanes at
// once, the slowest of which reaches back 42 s: three times as many frames as others
// keep. Their numbers are therefore kept to 16 bits: each as a whole multiple of a unit,
// the power of two by which the largest of the frame's numbers of its kind (image,
// world) still has 15 bits and a sign. That is 1/16 px for coordinates up to 2047 px and 0.25 mm
// for metres up to 8, steps whose rounding (unit/√12: 0.02 px, 0.07 mm) is a hundredth and
// less of what an estimator errs by; a gross outlier, 10⁵ px or 1 km at the most, makes
// that 4 px or 31 mm in its own frame.
//
// It hangs on the frame alone, so that a stream that resumes another reads the same
// numbers; and it goes with the setup (unsettledClock), not with how far the stream has come.
// A frame twice as large has units twice as large, a mirrored one the same.

// unit is the exponent of a power of two.
type unit int8

// units are those of a row's numbers.
type units struct{ image, world unit }

// unseen stands for the first number of a point that was not seen, center for 0.
const unseen, center = 0, 1 << 15

// leastUnit is the least exponent: that of a number that is not subnormal.
const leastUnit = -126

// size returns the unit itself.
func (u unit) size() float32 { return math.Float32frombits(uint32(127+int32(u)) << 23) }

// unitFor returns the unit for numbers up to most.
func unitFor(most float32) unit {
	_, e := math.Frexp(float64(most)) // most < 2^e
	u := unit(max(e-15, leastUnit))
	if math.RoundToEven(math.Ldexp(float64(most), -int(u))) >= center {
		u++
	}
	return u
}

// unpack returns the number that pack made v of.
func unpack(v uint16, size float32) float32 { return float32(int32(v)-center) * size }

// whole is 1.5·2⁵²: a float64 of that size has no fractions, so that adding it rounds
// to a whole number, to the even one of two, whose low bits are then those of the sum.
const whole = 3 << 51

// packed returns a number in units, 1/size given.
func packed(x float32, per float64) uint16 {
	return uint16(math.Float64bits(float64(x)*per+whole)) + center
}

// pack lays a frame's points into a narrow row of s.
func (s *rows) pack(f *body.Frame, v []uint16, u *units) {
	var image, world float32Bits
	for p := range f.World {
		if w := &f.World[p]; w.Score > 0 {
			world = max(world, sizeBits(w.X), sizeBits(w.Y), sizeBits(w.Z))
		}
		if w := &f.Image[p]; w.Score > 0 {
			image = max(image, sizeBits(w.X), sizeBits(w.Y))
		}
	}
	*u = units{image: unitFor(math.Float32frombits(image)), world: unitFor(math.Float32frombits(world))}
	perImage, perWorld := math.Ldexp(1, -int(u.image)), math.Ldexp(1, -int(u.world))
	for p := range f.World {
		if c := s.world[p]; c >= 0 {
			v[c] = unseen
			if w := &f.World[p]; w.Score > 0 {
				v[c], v[c+1], v[c+2] = packed(w.X, perWorld), packed(w.Y, perWorld), packed(w.Z, perWorld)
			}
		}
		if c := s.image[p]; c >= 0 {
			v[c] = unseen
			if w := &f.Image[p]; w.Score > 0 {
				v[c], v[c+1] = packed(w.X, perImage), packed(w.Y, perImage)
			}
		}
	}
}

// float32Bits are those of a float32 that is not negative: they rise with it.
type float32Bits = uint32

// sizeBits returns |x|.
func sizeBits(x float32) float32Bits { return math.Float32bits(x) &^ (1 << 31) }
