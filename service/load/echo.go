package load

import (
	"google.golang.org/grpc"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Echo is a server of the contract that takes frames and acknowledges each
// message, and does nothing else: what gRPC alone can carry.
type Echo struct {
	pb.UnimplementedSwingAnalysisServiceServer
}

// StreamPractice acknowledges until finish.
func (Echo) StreamPractice(stream grpc.BidiStreamingServer[pb.StreamPracticeRequest, pb.StreamPracticeResponse]) error {
	received := uint32(0)
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
		keep := received // frames are numbered from 0: all of them are done with
		ack := &pb.StreamPracticeResponse_Ack{Received: received, KeepFrom: keep}
		if err := stream.Send(&pb.StreamPracticeResponse{Message: &pb.StreamPracticeResponse_Ack_{Ack: ack}}); err != nil {
			return err
		}
	}
}
