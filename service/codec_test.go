package service

import (
	"testing"

	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

func buffers(raw []byte) mem.BufferSlice { return mem.BufferSlice{mem.SliceBuffer(raw)} }

func TestGarbageIsInvalidAndNotInternal(t *testing.T) {
	g := newGuard(DefaultLimits())
	req := &pb.CompareSwingsRequest{}
	if err := g.Unmarshal(buffers([]byte{0xff, 0xff, 0xff}), req); err != nil {
		t.Fatal(err)
	}
	wantInvalid(t, statusError(g.refused(req)), "request")
}

// FuzzGuard: no bytes may panic; what passes is what the plain decoder gives,
// and holds no more messages than allowed.
func FuzzGuard(f *testing.F) {
	raw, err := proto.Marshal(&pb.AnalyzeClipRequest{Setup: coco(), Frames: frames(0, 3)})
	if err != nil {
		f.Fatal(err)
	}
	f.Add(raw)
	l := DefaultLimits()
	l.Messages = 20
	g := newGuard(l)
	f.Fuzz(func(t *testing.T, raw []byte) {
		req, plain := &pb.AnalyzeClipRequest{}, &pb.AnalyzeClipRequest{}
		if err := g.Unmarshal(buffers(raw), req); err != nil {
			t.Fatal(err)
		}
		err := proto.Unmarshal(raw, plain)
		if refused := g.refused(req); refused != nil {
			if err == nil && len(plain.Frames)+len(plain.Blocks) == 0 && len(raw) < 20 {
				t.Fatalf("refused for nothing: %v", refused)
			}
			return
		}
		if len(req.Frames) > 20 || err != nil || !proto.Equal(req, plain) {
			t.Fatalf("%v passed as %v (%v)", plain, req, err)
		}
	})
}
