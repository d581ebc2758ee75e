package service

import (
	"google.golang.org/grpc/encoding"
	grpcproto "google.golang.org/grpc/encoding/proto"
	"google.golang.org/grpc/mem"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/wire"
)

// guard is the proto codec with a look at the bytes first: an empty frame is
// two bytes on the wire and two hundred in memory, so the number of messages
// in a request is bounded before it is decoded. gRPC answers a codec's error
// with INTERNAL; guard therefore leaves a refused request empty and marked, and
// refused tells what was wrong.
type guard struct {
	encoding.CodecV2
	limits Limits
}

func newGuard(l Limits) guard { return guard{encoding.GetCodecV2(grpcproto.Name), l} }

// Marks are unknown fields, numbered outside the contract.
const (
	markTooMany protowire.Number = 18_999_001 + iota
	markTooLong
	markMalformed
)

// Unmarshal decodes a request of the contract within the limits, any other
// message as it comes.
func (g guard) Unmarshal(data mem.BufferSlice, v any) error {
	m, ok := v.(proto.Message)
	if !ok || m.ProtoReflect().Descriptor().ParentFile().Package() != "courtkin.v1" {
		return g.CodecV2.Unmarshal(data, v)
	}
	buf := data.MaterializeToBuffer(mem.DefaultBufferPool())
	defer buf.Free()
	raw := buf.ReadOnlyData()
	if _, stream := m.(*pb.StreamPracticeRequest); stream && len(raw) > g.limits.BatchBytes {
		return mark(m, markTooLong)
	}
	left := g.limits.Messages
	if !count(raw, m.ProtoReflect().Descriptor(), &left) {
		return mark(m, markMalformed)
	}
	if left < 0 {
		return mark(m, markTooMany)
	}
	if proto.Unmarshal(raw, m) != nil {
		return mark(m, markMalformed)
	}
	return nil
}

// count takes one from left for each message nested in raw, at any depth, and
// stops below 0. It returns false for bytes that are no message.
func count(raw []byte, d protoreflect.MessageDescriptor, left *int) bool {
	for len(raw) > 0 && *left >= 0 {
		num, typ, n := protowire.ConsumeTag(raw)
		if n < 0 {
			return false
		}
		raw = raw[n:]
		size := protowire.ConsumeFieldValue(num, typ, raw)
		if size < 0 {
			return false
		}
		if f := d.Fields().ByNumber(num); f != nil && f.Message() != nil && typ == protowire.BytesType {
			inner, _ := protowire.ConsumeBytes(raw)
			*left--
			if !count(inner, f.Message(), left) {
				return false
			}
		}
		raw = raw[size:]
	}
	return true
}

// mark leaves m empty but for the mark.
func mark(m proto.Message, num protowire.Number) error {
	proto.Reset(m)
	m.ProtoReflect().SetUnknown(protowire.AppendVarint(protowire.AppendTag(nil, num, protowire.VarintType), 1))
	return nil
}

// refused returns why guard refused a request, nil when it did not.
func (g guard) refused(req any) error {
	m, ok := req.(proto.Message)
	if !ok {
		return nil
	}
	num, _, n := protowire.ConsumeTag(m.ProtoReflect().GetUnknown())
	if n < 0 {
		return nil
	}
	switch num {
	case markTooMany:
		return &wire.LimitError{Limit: "messages", Most: int64(g.limits.Messages), Unit: "frames, measures and the like in a request"}
	case markTooLong:
		return &wire.LimitError{Limit: "batch_bytes", Most: int64(g.limits.BatchBytes), Unit: "bytes in a message of a stream"}
	case markMalformed:
		return wire.Problems{{Field: "request", Description: "is no valid protobuf message"}}
	}
	return nil
}
