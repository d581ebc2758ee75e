package track

import (
	"math"
	"testing"

	"example.com/courtkin/service/geom"
)

// turned's series are the circle's, at both ends of each stretch, and steps end at 0.7 rad.
func TestTurnedFollowsTheCircle(t *testing.T) {
	u, e1, e2 := geom.Vec3{X: 1}, geom.Vec3{Y: 1}, geom.Vec3{Z: 1}
	for _, l := range []float64{0, 1e-9, 0.01, 0.0999, 0.1001, 0.4, 0.6999, 0.7001, 2} {
		for _, way := range []float64{0, 0.3, 2, 4} {
			s, c := math.Sincos(math.Min(l, 0.7))
			want := geom.Vec3{X: c, Y: s * math.Cos(way), Z: s * math.Sin(way)}
			if got := turned(u, e1, e2, l*math.Cos(way), l*math.Sin(way)); got.Sub(want).Norm() > 4e-16 {
				t.Errorf("by %g toward %g: %v, want %v", l, way, got, want)
			}
		}
	}
}

// What an arena has handed out is its own until it is emptied, and zero after.
func TestArenaHandsOutZeros(t *testing.T) {
	var a arena[float64]
	for round := range 3 {
		var lists [][]float64
		for k, n := range []int{3, 6, 0, 5, 40, 2} {
			l := a.take(n, 8)
			if len(l) != n || cap(l) != n {
				t.Fatalf("round %d: %d of %d, want %d", round, len(l), cap(l), n)
			}
			for i := range l {
				if l[i] != 0 {
					t.Fatalf("round %d: list %d holds %v", round, k, l)
				}
				l[i] = float64(k + 1)
			}
			lists = append(lists, l)
		}
		for k, l := range lists {
			for _, v := range l {
				if v != float64(k+1) {
					t.Fatalf("round %d: list %d was written over: %v", round, k, l)
				}
			}
		}
		a.empty()
	}
}

// One peak is sure, two within reach of each other's noise are not.
func TestSureOfOnePeak(t *testing.T) {
	vs := make([]float64, 21)
	for i := range vs {
		vs[i] = -10 * math.Abs(float64(i-8))
	}
	if !sure(vs) {
		t.Error("one peak is not sure")
	}
	if vs[15] = -farBelow + 1; sure(vs) {
		t.Error("a rival's peak does not count")
	}
}
