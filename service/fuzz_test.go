package service

import (
	"context"
	"encoding/binary"
	"math"
	"testing"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/wire"
)

// madeClip is one made forehand as a request.
func madeClip(c synth.Condition) *pb.AnalyzeClipRequest {
	m := synth.NewSwing(synth.Spec{Stroke: body.Forehand, Hand: body.RightHanded, Seed: 3})
	clip := synth.Shoot(m, c, synth.View{Layout: synth.COCO17}, 3)
	req := &pb.AnalyzeClipRequest{Setup: wire.AsSetup(&clip.Setup, pb.PointLayout_POINT_LAYOUT_COCO_17)}
	for i := range clip.Frames {
		req.Frames = append(req.Frames, wire.AsFrame(&clip.Frames[i], body.COCO17))
	}
	return req
}

// FuzzMachine takes a made swing through the decoder and the machine with
// values changed as the fuzzer says: each change is four bytes, which frame,
// which number and what it becomes. Nothing may panic, and only a client's
// errors may come back.
func FuzzMachine(f *testing.F) {
	if testing.Short() {
		f.Skip("one call after the other: left to the plain run")
	}
	f.Add(byte('W'), []byte{})
	f.Add(byte('P'), []byte{40, 3, 1, 200, 90, 7, 0, 0})
	f.Add(byte('I'), []byte{10, 250, 9, 255, 11, 251, 9, 255})
	made := map[synth.Condition]*pb.AnalyzeClipRequest{}
	for _, c := range synth.Conditions {
		made[c] = madeClip(c)
	}
	srv, err := New(Config{})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, condition byte, changes []byte) {
		req := proto.CloneOf(made[synth.Conditions[int(condition)%len(synth.Conditions)]])
		for i := 0; i+4 <= len(changes) && i < 400; i += 4 {
			spoil(req, changes[i:i+4])
		}
		_, err := srv.AnalyzeClip(context.Background(), req)
		if c := status.Code(err); c != codes.OK && c != codes.InvalidArgument && c != codes.ResourceExhausted {
			t.Errorf("%v", err)
		}
	})
}

// odd are numbers that mathematics stumbles over.
var odd = []float64{0, 1e-30, -1, 1e9, 3.4e38, math.NaN(), math.Inf(1), math.Inf(-1), 0.5, 99}

// spoil changes one number of a request: a point's, a time, an index, or of the setup.
func spoil(req *pb.AnalyzeClipRequest, c []byte) {
	frame := req.Frames[int(c[0])*len(req.Frames)/256]
	value := odd[int(c[2])%len(odd)]
	by := int64(int16(binary.LittleEndian.Uint16(c[2:4])))
	switch kind := c[1]; {
	case kind < 200:
		for _, list := range [][]float32{frame.Image, frame.World, frame.RacketImage, frame.RacketWorld, frame.BallImage, frame.BallWorld} {
			if len(list) > 0 {
				list[int(kind)%len(list)] = float32(value)
			}
		}
	case kind < 215:
		frame.TimeUs += by * 1000
	case kind < 225:
		frame.Index = uint32(int64(frame.Index) + by)
	case kind < 235:
		frame.World, frame.RacketWorld, frame.BallWorld = nil, nil, nil
	case kind < 245:
		frame.Image, frame.RacketImage, frame.BallImage = nil, nil, nil
	case kind < 250 && req.Setup.Player != nil:
		req.Setup.Player.StatureM = value
	case kind < 253 && req.Setup.Racket != nil:
		req.Setup.Racket.LengthM = value
	default:
		req.Setup.ExpectedStroke = pb.Stroke(by % 10)
	}
}
