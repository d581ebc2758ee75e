package service

import (
	"sync"
	"testing"

	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/synth"
)

// TestTheCoreFromManyGoroutines has every call work at once on swings of every
// condition, each twice: the core starts no goroutine and holds no lock, so what it
// could share among its callers is what it keeps in variables of its packages. The race
// detector, with which this is meant to run, sees that; without it, both must answer
// alike.
func TestTheCoreFromManyGoroutines(t *testing.T) {
	client := dial(t, Config{Settlers: 4})
	requests := map[string]*pb.AnalyzeClipRequest{"rally": rally(t, body.Forehand, body.TwoHandedBackhand)}
	for _, c := range synth.Conditions {
		requests[string(c)] = madeClip(c)
	}
	check := standing(t, synth.World, synth.View{})
	swings := make(chan *pb.Swing, 64)
	var group sync.WaitGroup
	for name, req := range requests {
		answers := make(chan *pb.AnalyzeClipResponse, 2)
		for range 2 {
			group.Go(func() {
				res, err := client.AnalyzeClip(t.Context(), proto.CloneOf(req))
				if err != nil {
					t.Errorf("%s: %v", name, err)
				}
				answers <- res
			})
		}
		group.Go(func() {
			a, b := <-answers, <-answers
			if !proto.Equal(a, b) || len(a.GetSwings()) == 0 {
				t.Errorf("%s: answered unlike, or without a swing", name)
			}
			for _, s := range a.GetSwings() {
				swings <- s
			}
		})
	}
	for range 2 {
		group.Go(func() {
			if _, err := client.CheckSetup(t.Context(), check); err != nil {
				t.Error(err)
			}
			if _, err := client.GetCatalog(t.Context(), &pb.GetCatalogRequest{}); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	close(swings)
	var all []*pb.Swing
	for s := range swings {
		all = append(all, s)
	}
	for range 4 {
		group.Go(func() {
			if _, err := client.CompareSwings(t.Context(), &pb.CompareSwingsRequest{Reference: all[0], Candidate: all[0]}); err != nil {
				t.Error(err)
			}
			if _, err := client.SummarizePractice(t.Context(), &pb.SummarizePracticeRequest{Swings: all}); err != nil {
				t.Error(err)
			}
			if _, err := client.AdviseFeed(t.Context(), &pb.AdviseFeedRequest{Recent: all}); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
}
