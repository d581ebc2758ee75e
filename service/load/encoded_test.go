package load

import (
	"bytes"
	"testing"

	"google.golang.org/grpc/encoding"
	grpcproto "google.golang.org/grpc/encoding/proto"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/synth"
)

// TestEncodedBeforehandIsTheSame: what the codec puts together is byte for byte what
// the plain one makes, for batches, for blocks and for frames that are not the script's.
func TestEncodedBeforehandIsTheSame(t *testing.T) {
	s, err := script(Kind{Condition: synth.World, FPS: 60, Seconds: 4}, 0)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.encode(); err != nil {
		t.Fatal(err)
	}
	plain := encoding.GetCodecV2(grpcproto.Name)
	stranger := proto.CloneOf(s.Frames[3])
	for name, c := range map[string]struct {
		message *pb.StreamPracticeRequest
		ready   bool
	}{
		"a batch":         {frames(&pb.StreamPracticeRequest_FrameBatch{Frames: s.Frames[3:11]}), true},
		"one frame":       {frames(&pb.StreamPracticeRequest_FrameBatch{Frames: s.Frames[:1]}), true},
		"strangers":       {frames(&pb.StreamPracticeRequest_FrameBatch{Frames: []*pb.Frame{s.Frames[2], stranger}}), false},
		"a block":         {frames(&pb.StreamPracticeRequest_FrameBatch{Blocks: []*pb.FrameBlock{{Camera: 1}}}), false},
		"an empty batch":  {frames(&pb.StreamPracticeRequest_FrameBatch{}), false},
		"the last notice": {&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Finish_{Finish: &pb.StreamPracticeRequest_Finish{Frames: []uint32{7}}}}, false},
	} {
		if _, ready := s.batch(c.message.GetFrames()); ready != c.ready {
			t.Errorf("%s: put together from what was ready: %v, want %v", name, ready, c.ready)
		}
		got, err := encoded{plain, s}.Marshal(c.message)
		if err != nil {
			t.Fatal(err)
		}
		want, err := plain.Marshal(c.message)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got.Materialize(), want.Materialize()) {
			t.Errorf("%s: other bytes than the plain codec's", name)
		}
	}
}

func frames(b *pb.StreamPracticeRequest_FrameBatch) *pb.StreamPracticeRequest {
	return &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: b}}
}
