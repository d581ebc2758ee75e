package camera

import (
	"math/rand/v2"
	"testing"
	"time"
)

func TestDbg(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var worst time.Duration
	for i := range 150 {
		w, h := uint32(1920), uint32(1080)
		if r.IntN(3) == 0 {
			w, h = r.Uint32(), r.Uint32()
		}
		if r.IntN(4) == 0 {
			w = uint32(r.IntN(100))
		}
		c := Camera{Width: w, Height: h, Focal: []float64{0, 0, 1e300, 1e-300, 1500}[r.IntN(5)]}
		n := 4 + r.IntN(19)
		for k := range n {
			m := Mark(1 + r.IntN(22))
			if r.IntN(2) == 0 {
				m = Mark(k + 1)
			}
			c.Marks = append(c.Marks, MarkedPoint{m, float64(r.IntN(65536)) / 16, float64(r.IntN(65536)) / 16})
		}
		t0 := time.Now()
		_, err := Solve(c)
		d := time.Since(t0)
		if d > worst {
			worst = d
			t.Log(i, d, n, w, h, c.Focal, err)
		}
	}
}
