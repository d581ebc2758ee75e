package swing

import (
	"math"
	"math/rand/v2"
	"testing"

	"example.com/courtkin/service/body"
	"example.com/courtkin/service/camera"
)

// scattered makes a frame of points anywhere within reach, a few of them not seen.
func scattered(r *rand.Rand, metres, pixels float64) body.Frame {
	var f body.Frame
	for p := range body.NumPoints {
		if r.Float64() < 0.9 {
			f.World[p] = body.Seen3{
				X: float32(metres * (2*r.Float64() - 1)), Y: float32(metres * (2*r.Float64() - 1)), Z: float32(metres * (2*r.Float64() - 1)),
				Score: float32(0.1 + r.Float64()),
			}
		}
		if r.Float64() < 0.9 {
			f.Image[p] = body.Seen2{X: float32(pixels * (2*r.Float64() - 1)), Y: float32(pixels * (2*r.Float64() - 1)), Score: float32(0.1 + r.Float64())}
		}
	}
	return f
}

// largest returns the largest of a frame's numbers in the image and in the world.
func largest(f *body.Frame) (image, world float64) {
	for p := range body.NumPoints {
		if w := f.World[p]; w.Score > 0 {
			world = max(world, math.Abs(float64(w.X)), math.Abs(float64(w.Y)), math.Abs(float64(w.Z)))
		}
		if w := f.Image[p]; w.Score > 0 {
			image = max(image, math.Abs(float64(w.X)), math.Abs(float64(w.Y)))
		}
	}
	return image, world
}

// TestANarrowRowReadsWhatWasPutIn: every number comes back to within 2⁻¹⁵ of the largest
// of its frame, what was not seen comes back as not seen, and what came back goes in
// again as it is.
func TestANarrowRowReadsWhatWasPutIn(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 3))
	s := newRows(true)
	for _, reach := range []struct{ metres, pixels float64 }{
		{2, 1920}, {30, 3840}, {maxMetres, maxPixels}, {1e-3, 1}, {0.99999, 1023.99}, {0, 0}, {1e-42, 1e-44},
	} {
		for range 50 {
			f, got, again := scattered(r, reach.metres, reach.pixels), body.Frame{}, body.Frame{}
			row := s.put(&f)
			s.read(row, 0, &got)
			image, world := largest(&f)
			off := func(a, b float32, most float64) bool {
				return math.Abs(float64(a)-float64(b)) > most/(1<<15)+1e-38
			}
			for p := range body.NumPoints {
				w, x := f.World[p], got.World[p]
				if (w.Score > 0) != (x.Score > 0) || w.Score > 0 && (off(w.X, x.X, world) || off(w.Y, x.Y, world) || off(w.Z, x.Z, world)) {
					t.Fatalf("%v: %v went in, %v came back", reach, w, x)
				}
				v, y := f.Image[p], got.Image[p]
				if (v.Score > 0) != (y.Score > 0) || v.Score > 0 && (off(v.X, y.X, image) || off(v.Y, y.Y, image)) {
					t.Fatalf("%v: %v went in, %v came back", reach, v, y)
				}
			}
			second := s.put(&got)
			s.read(second, 0, &again)
			if again != got {
				t.Fatalf("%v: what came back goes in as something else", reach)
			}
			s.drop(row)
			s.drop(second)
		}
	}
}

// TestANarrowRowKnowsNoSideAndNoScale: a mirrored frame reads as the mirror image of the
// one, one of twice the size as twice the one.
func TestANarrowRowKnowsNoSideAndNoScale(t *testing.T) {
	r := rand.New(rand.NewPCG(17, 3))
	s := newRows(true)
	through := func(f body.Frame) (out body.Frame) {
		row := s.put(&f)
		s.read(row, 0, &out)
		s.drop(row)
		return out
	}
	for range 50 {
		f := scattered(r, 3, 1920)
		for _, by := range []float32{-1, 2} {
			g, want := f, through(f)
			for p := range body.NumPoints {
				for _, h := range []*body.Frame{&g, &want} {
					w, i := &h.World[p], &h.Image[p]
					w.X, w.Y, w.Z, i.X, i.Y = by*w.X, by*w.Y, by*w.Z, by*i.X, by*i.Y
				}
			}
			if through(g) != want {
				t.Fatalf("a frame times %g reads as another", by)
			}
		}
	}
}

// TestADecidedStreamLetsGoOfItsRivals: once a swing shows that a stream is in true time,
// it holds no more than one of which that was known from the start.
func TestADecidedStreamLetsGoOfItsRivals(t *testing.T) {
	frames := standingFor(60*60, 60, layouts[33])
	last := frames[len(frames)-1]
	for _, f := range drawn(3) {
		f.TimeUS += last.TimeUS + 20_000
		f.Index += last.Index + 1
		frames = append(frames, f)
	}
	m, _ := New(Setup{Axes: camera.AxesCamera})
	known, _ := New(Setup{Axes: camera.AxesCamera, Clock: Clock{Factor: 1}})
	m.settle, known.settle = unsettled, unsettled
	before := 0
	for i := range frames {
		if m.lanes != nil {
			before = max(before, m.bytes())
		}
		for _, x := range []*Machine{m, known} {
			if err := x.Push(&frames[i], &quiet{}); err != nil {
				t.Fatal(err)
			}
		}
	}
	t.Logf("%d bytes at most before, %d after; %d when known", before, m.bytes(), known.bytes())
	if m.lanes != nil || before < 2*known.bytes() {
		t.Error("nothing was to be let go of")
	}
	if after := m.bytes(); after > known.bytes()+known.bytes()/10 {
		t.Errorf("%d bytes, %d had it been known", after, known.bytes())
	}
}
