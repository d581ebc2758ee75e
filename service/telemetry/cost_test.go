package telemetry_test

import (
	"syscall"
	"testing"
	"time"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// BenchmarkMessage is what watching costs: CPU time of a message of 8 frames
// and its acknowledgement, client, transport and service included, with all of
// it off, with metrics, and with metrics and traces.
func BenchmarkMessage(b *testing.B) {
	b.Setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:1")
	b.Setenv("OTEL_BSP_EXPORT_TIMEOUT", "10")
	for _, c := range []struct {
		name string
		env  map[string]string
	}{
		{"off", map[string]string{"OTEL_SDK_DISABLED": "true"}}, {"metrics", nil}, {"traces", map[string]string{"OTEL_TRACES_EXPORTER": "otlp"}},
	} {
		b.Run("watch="+c.name, func(b *testing.B) {
			client, _, _ := start(b, c.env)
			stream, err := client.StreamPractice(b.Context())
			if err != nil {
				b.Fatal(err)
			}
			_ = stream.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Open_{Open: &pb.StreamPracticeRequest_Open{
				Setup: &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17}}}})
			before, n := cpu(b), 0
			for b.Loop() {
				batch := &pb.StreamPracticeRequest_FrameBatch{}
				for range 8 {
					batch.Frames = append(batch.Frames, &pb.Frame{Index: uint32(n), TimeUs: int64(n) * 16_667, Image: make([]float32, 51)})
					n++
				}
				if err := stream.Send(&pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{Frames: batch}}); err != nil {
					b.Fatal(err)
				}
				for {
					m, err := stream.Recv()
					if err != nil {
						b.Fatal(err)
					}
					if m.GetAck() != nil {
						break
					}
				}
			}
			b.ReportMetric(float64((cpu(b)-before).Microseconds())/float64(b.N), "cpu-µs/message")
		})
	}
}

// cpu is what this process has used so far.
func cpu(b *testing.B) time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
