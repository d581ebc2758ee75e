package track

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// circling makes 3 s of frames at 120 Hz of a racket's tip on a circle (24 m/s) and
// of a shoulder that rests, seen with 8 mm of noise. Frame k is taken at taken(k)
// and bears the time stamp(k), seconds.
func circling(r *rand.Rand, taken, stamp func(k int) float64) []body.Frame {
	out := make([]body.Frame, 360)
	seen := func(p geom.Vec3) body.Seen3 {
		p = p.Add(geom.Vec3{X: r.NormFloat64(), Y: r.NormFloat64(), Z: r.NormFloat64()}.Scale(0.008))
		return body.Seen3{X: float32(p.X), Y: float32(p.Y), Z: float32(p.Z), Score: 0.8}
	}
	for k := range out {
		s, c := math.Sincos(20 * taken(k))
		out[k].TimeUS = int64(math.Round(stamp(k) * 1e6))
		out[k].World[body.RacketTip] = seen(geom.Vec3{X: 1.2 * c, Y: 1 + 1.2*s})
		out[k].World[body.LeftShoulder] = seen(geom.Vec3{Y: 1.4})
	}
	return out
}

// TestStamps: whether frames were taken when they say, or evenly, is told from
// what moved.
func TestStamps(t *testing.T) {
	even := func(k int) float64 { return float64(k) / 120 }
	for seed := range uint64(5) {
		r := rand.New(rand.NewPCG(seed, 9))
		late, normal := make([]float64, 360), make([]float64, 360)
		for k := range late {
			late[k], normal[k] = 0.001*(2*r.Float64()-1), 0.001*r.NormFloat64()
		}
		wandering := func(k int) float64 { return even(k) + late[k] }
		often := func(k int) float64 { return float64(k) / 240 }
		dropped := func(k int) float64 { return even(k + k/40 + 7*(k/100)) }
		varied := func(k int) float64 { return even(k) + 0.02*math.Sin(float64(k)/7) }
		for _, c := range []struct {
			name         string
			taken, stamp func(k int) float64
			off          float64 // greatest error of the times afterwards, s
		}{
			{"stamped late", even, wandering, 1.5e-4}, // the clock's own start is known to 0.6 ms/√360
			{"stamped a normal error late", even, func(k int) float64 { return even(k) + normal[k] }, 2.5e-4},
			{"stamped a quarter of a step late", often, func(k int) float64 { return often(k) + normal[k] }, 2.5e-4},
			{"some dropped, the rest stamped late", dropped, func(k int) float64 { return dropped(k) + normal[k] }, 2.5e-4},
			{"taken a normal error off", func(k int) float64 { return even(k) + normal[k] }, func(k int) float64 { return even(k) + normal[k] }, 1e-5},
			{"taken unevenly", wandering, wandering, 1e-5},
			{"even", even, even, 1e-6},
			{"a rate that varies", varied, varied, 1e-6},
		} {
			w := &Window{Frames: circling(r, c.taken, c.stamp), Slow: 1}
			m := &scene{w: w, t0: w.Frames[0].TimeUS}
			m.settleTimes()
			start := float64(m.t0) * 1e-6
			for k := range w.Frames {
				if d := start + m.time(k) - c.taken(k); math.Abs(d) > c.off {
					t.Errorf("seed %d, %s: frame %d is timed %.2g s late", seed, c.name, k, d)
					break
				}
			}
		}
	}
}
