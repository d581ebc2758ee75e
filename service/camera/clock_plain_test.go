package camera

import (
	"math"
	"math/rand/v2"
	"sort"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// epipolarError returns how far two directions (x, y, 1) are from seeing one
// point, over the sd that image noise var0, var1 (in units of x, y) gives it: the
// first-order distance of Sampson 1982 (Comput Graph Image Process 18:97).
func epipolarError(e *geom.Mat3, c0, c1 geom.Vec3, var0, var1 float64) float64 {
	l1 := e.Apply(c0)
	l0 := geom.Vec3{X: e[0]*c1.X + e[3]*c1.Y + e[6]*c1.Z, Y: e[1]*c1.X + e[4]*c1.Y + e[7]*c1.Z}
	v := var0*(l0.X*l0.X+l0.Y*l0.Y) + var1*(l1.X*l1.X+l1.Y*l1.Y)
	if v <= 0 {
		return 0
	}
	return c1.Dot(l1) / math.Sqrt(v)
}

// plainError is a pair's error by the essential matrix.
func plainError(p *[2]Pose, a, b Pixel, gain float64) float64 {
	e := essential(&p[0], &p[1])
	return epipolarError(&e, p[0].CameraRay(a.X, a.Y), p[1].CameraRay(b.X, b.Y), 1/sq(p[0].Focal), gain/sq(p[1].Focal))
}

// plainSearch tries every offset on every pair.
func plainSearch(c *clock, reach float64) float64 {
	best, at := math.Inf(1), 0.0
	for i := -int(reach / clockGrid); i <= int(reach/clockGrid); i++ {
		offset, sum, n := float64(i)*clockGrid, 0.0, 0
		for _, s := range c.pairs[:c.moves] {
			if x, y, gain, ok := c.later[s.point].between(s.t-offset, c.gap); ok {
				r := plainError(&c.poses, s.at, Pixel{x, y}, gain) / clockScale
				sum += math.Log1p(r * r)
				n++
			}
		}
		if n >= clockLeastPairs/2 && sum/float64(n) < best {
			best, at = sum/float64(n), offset
		}
	}
	return at
}

// filmed is a pair of cameras on a player, whose clocks differ by offset.
func filmed(r *rand.Rand, offset, fps float64) (told [2]Pose, frames [2][]body.Frame) {
	truth, told, ok := markedPair(r)
	for !ok {
		truth, told, ok = markedPair(r)
	}
	s := randomSwinger(r)
	frames[0] = s.film(&truth[0], 0, 0, 3, 60, 0, 1.5, r)
	frames[1] = s.film(&truth[1], 1, 0.1, 2.9, fps, -offset, 1.5, r)
	return told, frames
}

func TestTheSearchFindsWhatEveryOffsetTriedFinds(t *testing.T) {
	r := rand.New(rand.NewPCG(12, 1))
	for n := range 10 {
		told, frames := filmed(r, 0.6*r.Float64()-0.3, []float64{60, 30, 120}[n%3])
		c := newClock(told, frames)
		got, _ := c.search(0.35)
		if want := plainSearch(c, 0.35); math.Abs(got-want) > 1e-9 {
			t.Errorf("pair %d: offset %.3f s, want %.3f", n, got, want)
		}
	}
}

// TestClockRowsAreDerivatives holds a pair's row against differences of its error, on
// the epipolar line and off it: there its sd's own change counts.
func TestClockRowsAreDerivatives(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	p, _, _ := markedPair(r)
	p[0].K1, p[1].K1 = 0.05, -0.04
	for n := range 40 {
		w := geom.Vec3{X: 2 * r.Float64(), Y: 2 * r.Float64(), Z: 2*r.Float64() - 1}
		var a, b Pixel
		a.X, a.Y, _ = p[0].Project(w)
		b.X, b.Y, _ = p[1].Project(w)
		if n%2 == 1 {
			b.X, b.Y = b.X+20*r.NormFloat64(), b.Y+20*r.NormFloat64()
		}
		gain, speed := 0.3+r.Float64(), Pixel{800 * r.NormFloat64(), 800 * r.NormFloat64()}
		base := newBaseline(&p)
		var row clockRow
		base.row(&row, a, b, gain, speed)
		if want := plainError(&p, a, b, gain); math.Abs(row.res-want) > 1e-6 {
			t.Errorf("error %.8f, want %.8f", row.res, want)
		}
		for k := range row.by {
			const h = 1e-5
			at := func(h float64) float64 {
				var d [clockParams]float64
				d[k] = h
				s := clockState{poses: p}.changed(d[:])
				return plainError(&s.poses, a, Pixel{b.X - d[0]*speed.X, b.Y - d[0]*speed.Y}, gain)
			}
			want := (at(h) - at(-h)) / (2 * h)
			if d := math.Abs(row.by[k] - want); d > 1e-3*math.Abs(want)+0.05 {
				t.Errorf("pair %d, by parameter %d: %.4f, want %.4f", n, k, row.by[k], want)
			}
		}
	}
}

func TestNearIsLagrange(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 6))
	var p path
	for at := 0.0; at < 1; at += 0.01 + 0.02*r.Float64() {
		p.add(at, r.NormFloat64(), r.NormFloat64())
	}
	for range 200 {
		at := r.Float64()
		x, y, gain, ok := p.between(at, 0.028)
		j := sort.SearchFloat64s(p.t, at)
		lo, hi := j-1, j+1
		if want := j > 0 && j < len(p.t) && p.t[j]-p.t[j-1] <= 0.028; ok != want {
			t.Fatalf("at %.3f: %v, want %v", at, ok, want)
		}
		if !ok {
			continue
		}
		if j >= 2 && j+1 < len(p.t) && p.t[j-1]-p.t[j-2] <= 0.028 && p.t[j+1]-p.t[j] <= 0.028 {
			lo, hi = j-2, j+2
		}
		for i := lo; i < hi; i++ {
			c := 1.0
			for k := lo; k < hi; k++ {
				if k != i {
					c *= (at - p.t[k]) / (p.t[i] - p.t[k])
				}
			}
			x, y, gain = x-c*p.x[i], y-c*p.y[i], gain-c*c
		}
		if !(math.Abs(x)+math.Abs(y)+math.Abs(gain) < 1e-9) {
			t.Errorf("at %.3f: off by %g, %g and %g", at, x, y, gain)
		}
	}
}
