package load

import (
	"google.golang.org/grpc"
	"google.golang.org/grpc/encoding"
	grpcproto "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// encoded is the proto codec of a player whose frames have been encoded beforehand,
// once for all players: what a phone spends on that is no cost of the service, and
// here it would be taken from the same cores. What goes over the connection is the
// same byte for byte.
type encoded struct {
	encoding.CodecV2
	script *Script
}

// codec is the dial option that has a script's frames sent as they were encoded.
func (s *Script) codec() grpc.DialOption {
	return grpc.WithDefaultCallOptions(grpc.ForceCodecV2(encoded{encoding.GetCodecV2(grpcproto.Name), s}))
}

// encode encodes the frames, each as an element of a batch.
func (s *Script) encode() error {
	s.wire = make([][]byte, len(s.Frames))
	for i, f := range s.Frames {
		raw, err := proto.Marshal(f)
		if err != nil {
			return err
		}
		s.wire[i] = protowire.AppendBytes(protowire.AppendTag(nil, inBatch, protowire.BytesType), raw)
	}
	return nil
}

// Numbers of the fields that lead to a frame: of a batch in a message, of a frame in a batch.
var (
	inMessage = fieldNumber((*pb.StreamPracticeRequest)(nil), "frames")
	inBatch   = fieldNumber((*pb.StreamPracticeRequest_FrameBatch)(nil), "frames")
)

func fieldNumber(m proto.Message, name protoreflect.Name) protowire.Number {
	return m.ProtoReflect().Descriptor().Fields().ByName(name).Number()
}

// Marshal puts a batch of the script's frames together from their bytes; any other
// message it encodes.
func (e encoded) Marshal(v any) (mem.BufferSlice, error) {
	m, ok := v.(*pb.StreamPracticeRequest)
	if !ok {
		return e.CodecV2.Marshal(v)
	}
	raw, ok := e.script.batch(m.GetFrames())
	if !ok {
		return e.CodecV2.Marshal(v)
	}
	return mem.BufferSlice{mem.SliceBuffer(raw)}, nil
}

// batch encodes a batch; it is false for one that holds anything but the script's frames.
func (s *Script) batch(b *pb.StreamPracticeRequest_FrameBatch) ([]byte, bool) {
	frames := b.GetFrames()
	if len(frames) == 0 || len(b.GetBlocks()) > 0 {
		return nil, false
	}
	size := 0
	for _, f := range frames {
		i := int(f.GetIndex())
		if i >= len(s.wire) || s.Frames[i] != f {
			return nil, false
		}
		size += len(s.wire[i])
	}
	raw := make([]byte, 0, size+protowire.SizeTag(inMessage)+protowire.SizeVarint(uint64(size)))
	raw = protowire.AppendVarint(protowire.AppendTag(raw, inMessage, protowire.BytesType), uint64(size))
	for _, f := range frames {
		raw = append(raw, s.wire[f.GetIndex()]...)
	}
	return raw, true
}
