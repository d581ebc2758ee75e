package swing

import (
	"math"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/geom"
)

// TestTwoOutliersDoNotHideOneAnother fits shoulders of 0.36 m that turn at 400 deg/s, seen
// at 60 Hz over 0.2 s with some frames lost and a millimetre of noise, left and right
// mistaken for one another in some: two such frames in thirteen are left out, and what is
// left out is only that.
func TestTwoOutliersDoNotHideOneAnother(t *testing.T) {
	const rate, width = 400.0, 0.36
	for _, c := range []struct {
		name     string
		mistaken []int
		lost     []int
		left     int
	}{
		{"none", nil, nil, 13},
		{"one", []int{4}, nil, 12},
		{"two side by side", []int{5, 6}, nil, 11},
		{"two apart", []int{3, 9}, nil, 11},
		{"two of few", []int{4, 9}, []int{1, 6, 11}, 8},
	} {
		var f fit
		for i := range 13 {
			at := float64(i-6) / 60
			skip, sign := false, 1.0
			for _, k := range c.lost {
				skip = skip || k == i
			}
			for _, k := range c.mistaken {
				if k == i {
					sign = -1
				}
			}
			if skip {
				continue
			}
			s, co := math.Sincos(rate * math.Pi / 180 * at)
			f.add(at, geom.Vec3{X: sign * width * co, Z: sign*width*s + 0.001*math.Sin(float64(7*i))})
		}
		m, ok := f.at()
		if got := m.Vel.Z / m.Pos.X * 180 / math.Pi; !ok || math.Abs(got-rate) > 0.12*rate || f.n != c.left {
			t.Errorf("%s: %.0f deg/s of %d samples, want %.0f of %d", c.name, got, f.n, rate, c.left)
		}
	}
}

// TestOneOddFrameIsNoFlicker: an outlier of several limbs in one frame leaps there and back;
// two people leap again and again.
func TestOneOddFrameIsNoFlicker(t *testing.T) {
	for _, c := range []struct {
		name string
		odd  []int // frames of 24 in which hips, elbows and knees lie half a metre off
		want bool
	}{
		{"none", nil, false},
		{"one", []int{12}, false},
		{"there for two frames, and back", []int{12, 13}, true},
		{"two, one by one", []int{9, 14}, true},
	} {
		m, _ := New(Setup{})
		v := &m.det.view
		for i := range 24 {
			f := standing(i, 60, layouts[33])
			for _, k := range c.odd {
				if k != i {
					continue
				}
				for _, p := range []body.Point{body.LeftHip, body.LeftElbow, body.LeftKnee} {
					f.Image[p].X += 250 // a metre: half of one for the middle
				}
			}
			v.ring.push(v.ring.put(&f))
		}
		if got := v.flickers(v.ring.time(12)); got != c.want {
			t.Errorf("%s: flickers %v, want %v", c.name, got, c.want)
		}
	}
}
