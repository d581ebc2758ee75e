package load

import (
	"google.golang.org/grpc"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Echo is a server of the contract that takes frames, acknowledges each message and
// says what is true of every practice, ten readings a second, so that its messages are
// those of the service but for events and swings. It does nothing else: what gRPC alone
// can carry.
type Echo struct {
	pb.UnimplementedSwingAnalysisServiceServer
}

// readingEvery is after how many frames a reading goes out: ten a second at 60 Hz.
const readingEvery = 6

// aReading is as long on the wire as one of the service's.
func aReading(frame uint32) *pb.StreamPracticeResponse {
	speed, turn, lag := 4.2, 37.5, 61.25 // any values: a number takes nine bytes
	return &pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Reading_{Reading: &pb.StreamPracticeResponse_Reading{
		TimeUs: int64(frame) * 16_667, Phase: pb.PhaseKind_PHASE_KIND_READY, Grade: pb.Grade_GRADE_GOOD,
		RacketSpeedMps: &speed, ShoulderTurnDeg: &turn, LagDeg: &lag,
	}}}
}

// StreamPractice acknowledges until finish.
func (Echo) StreamPractice(stream grpc.BidiStreamingServer[pb.StreamPracticeRequest, pb.StreamPracticeResponse]) error {
	received, read := uint32(0), uint32(0)
	for {
		m, err := stream.Recv()
		if err != nil {
			return err
		}
		if m.GetFinish() != nil {
			return nil
		}
		batch := m.GetFrames()
		if batch == nil {
			continue
		}
		received += uint32(len(batch.GetFrames()))
		for _, b := range batch.GetBlocks() {
			received += uint32(len(b.GetTimeStepsUs())) + 1
		}
		for ; read+readingEvery <= received; read += readingEvery {
			if err := stream.Send(aReading(read)); err != nil {
				return err
			}
		}
		keep := received // frames are numbered from 0: all of them are done with
		ack := &pb.StreamPracticeResponse_Ack{Received: received, KeepFrom: keep}
		if err := stream.Send(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Ack_{Ack: ack}}); err != nil {
			return err
		}
	}
}
