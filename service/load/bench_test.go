package load

import (
	"fmt"
	"testing"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/synth"
)

// BenchmarkPlayer is what one player costs without any transport, in CPU time
// and not by the clock, so that a busy machine tells much the same: cores for a
// player, and its inverse, the ceiling of players per core.
func BenchmarkPlayer(b *testing.B) {
	for _, condition := range []synth.Condition{synth.World, synth.Phone} {
		b.Run(fmt.Sprintf("condition=%c/fps=60", condition), func(b *testing.B) {
			scripts, err := Scripts(b.Context(), Kind{Condition: condition, FPS: 60, Seconds: 20, Count: 4, Seed: 1})
			if err != nil {
				b.Fatal(err)
			}
			srv, err := service.New(service.Config{})
			if err != nil {
				b.Fatal(err)
			}
			played, before := 0.0, self.usage()
			for i := 0; b.Loop(); i++ {
				s := scripts[i%len(scripts)]
				if _, err := srv.Analyze(b.Context(), &pb.AnalyzeClipRequest{Setup: s.Setup, Frames: s.Frames}, func(int) {}); err != nil {
					b.Fatal(err)
				}
				played += s.seconds()
			}
			cpu := self.usage().less(before).CPU.Seconds()
			b.ReportMetric(1000*cpu/played, "cpu-ms/player-s")
			b.ReportMetric(played/cpu, "players/core")
		})
	}
}
