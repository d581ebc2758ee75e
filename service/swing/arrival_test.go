package swing_test

import (
	"cmp"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"slices"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/synth"
)

// arriving returns the frames of two cameras in an order in which they may arrive: each
// camera's are late by up to most seconds, by more and less as time goes by, and come in
// their order; sometimes one camera's stand still for a while and then come at once. Seeds 0
// and 1 have all frames of that camera as late as can be.
func arriving(clip *synth.Clip, in []body.Frame, most float64, seed uint64) []body.Frame {
	rng := rand.New(rand.NewPCG(seed, 0x61727269766573))
	type arrival struct {
		f  *body.Frame
		at float64
	}
	var all []arrival
	var late, until, last [2]float64
	for i := range in {
		f := &in[i]
		c, at := f.Camera, clip.Real(float64(f.TimeUS))
		if at >= until[c] {
			late[c], until[c] = most*rng.Float64()*rng.Float64(), at+0.1+3*rng.Float64()
			if rng.IntN(3) == 0 {
				late[c] = most * rng.Float64()
			}
		}
		if seed < 2 {
			late[c] = 0
			if seed == uint64(c) {
				late[c] = most
			}
		}
		last[c] = max(last[c], at+late[c])
		all = append(all, arrival{f, last[c]})
	}
	slices.SortStableFunc(all, func(a, b arrival) int { return cmp.Compare(a.at, b.at) })
	out := make([]body.Frame, len(all))
	for i := range all {
		out[i] = *all[i].f
	}
	return out
}

// windows hears which windows are handed over, to the last frame's last bit, and the warnings.
type windows struct {
	heardAll
	of []string
}

// hearWindows plays frames from those on that were told to be needed; each, if any, is called
// after each frame.
func hearWindows(t *testing.T, s swing.Setup, in []body.Frame, from [2]uint32, each func(i int, w *windows)) *windows {
	t.Helper()
	m, err := swing.New(s)
	if err != nil {
		t.Fatal(err)
	}
	w := &windows{}
	m.SettleWith(func(f []body.Frame, c swing.Candidate, s swing.Setup) (*measure.Sheet, error) {
		h := fnv.New64a()
		fmt.Fprint(h, f)
		w.of = append(w.of, fmt.Sprintf("%s by camera %d, contact %d, until %d, %d frames %x", c.ID, c.Camera, c.ContactUS, c.EndUS, len(f), h.Sum64()))
		return swing.Unsettled(f, c, s)
	})
	for i := range in {
		if in[i].Index < from[in[i].Camera] {
			continue
		}
		if err := m.Push(&in[i], w); err != nil {
			t.Fatal(err)
		}
		if each != nil {
			each(i, w)
		}
	}
	m.Finish(w)
	return w
}

// TestFramesArriveInAnyOrder: in whatever order the frames of two cameras arrive, if none is
// later than is waited for, the same windows are handed over, to the last bit; so are those that
// a broken stream's next one finds.
func TestFramesArriveInAnyOrder(t *testing.T) {
	orders, resumes := 6, 8
	if testing.Short() {
		orders, resumes = 3, 2
	}
	found := 0
	for _, seed := range []uint64{3, 23} { // in the first all frames stop now and then, in the other one swing hangs on the second camera
		clip, _ := synth.Session(synth.TwoViews, 10, 9100+seed)
		want := hearWindows(t, clip.Setup, clip.Frames, [2]uint32{}, nil)
		found += len(want.of)
		for k := range uint64(orders) {
			in := arriving(&clip, clip.Frames, 4.5, k)
			type point struct {
				told  [2]uint32
				found int
			}
			var points []point
			got := hearWindows(t, clip.Setup, in, [2]uint32{}, func(i int, w *windows) {
				if i%(len(in)/resumes) == 0 {
					points = append(points, point{w.told, len(w.of)})
				}
			})
			if !slices.Equal(got.of, want.of) {
				t.Errorf("seed %d, order %d: %s", seed, k, firstOdd(got.of, want.of))
				continue
			}
			if n := len(got.warnings()); n > 0 {
				t.Errorf("seed %d, order %d: warnings %v", seed, k, got.warnings())
			}
			for i, p := range points {
				again := hearWindows(t, clip.Setup, in, p.told, nil)
				rest := want.of[p.found:]
				if n := len(again.of) - len(rest); n < 0 || !slices.Equal(again.of[n:], rest) {
					t.Errorf("seed %d, order %d, broken off at %d of %d: %s", seed, k, i, len(points), firstOdd(again.of[max(0, n):], rest))
				}
			}
		}
	}
	if found < 18 {
		t.Errorf("only %d windows", found)
	}
}

// warnings returns what was warned of.
func (h *heardAll) warnings() (out []string) {
	for _, l := range h.lines {
		if len(l) > 8 && l[:8] == "warning " {
			out = append(out, l)
		}
	}
	return out
}
