package wire

import (
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
)

// decodeAll runs frames through a decoder until one is unfit, and fails when a
// point that passes is not finite.
func decodeAll(t *testing.T, frames []*pb.Frame) {
	t.Helper()
	d := cocoDecoder(t)
	var out body.Frame
	for i, f := range frames {
		if d.Frame(f, "frames", i, &out) != nil {
			return
		}
		for p := range body.NumPoints {
			i, w := out.Image[p], out.World[p]
			if !(i.Score >= 0 && i.Score <= 1 && w.Score >= 0 && w.Score <= 1) {
				t.Fatalf("%v: scores %v, %v", p, i.Score, w.Score)
			}
			if !within(i.X, maxPixels) || !within(i.Y, maxPixels) || !within(w.X, maxMetres) || !within(w.Y, maxMetres) || !within(w.Z, maxMetres) {
				t.Fatalf("%v: %v, %v", p, i, w)
			}
		}
	}
}
