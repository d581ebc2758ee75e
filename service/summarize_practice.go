package service

import (
	"context"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/practice"
	"example.com/courtkin/service/wire"
)

// SummarizePractice looks over many analysed swings.
func (s *Server) SummarizePractice(_ context.Context, req *pb.SummarizePracticeRequest) (*pb.SummarizePracticeResponse, error) {
	if len(req.GetSwings()) == 0 {
		return nil, statusError(wire.Problems{{Field: "swings", Description: "is required"}})
	}
	sheets, err := wire.Sheets(req.GetSwings(), "swings", s.config.Limits.Swings)
	if err != nil {
		return nil, statusError(err)
	}
	baseline, err := wire.Baseline(req.GetBaseline(), "baseline")
	if err != nil {
		return nil, statusError(err)
	}
	player, err := wire.Player(req.GetPlayer(), "player")
	if err != nil {
		return nil, statusError(err)
	}
	return wire.Summary(practice.Summarize(s.config.Book, practice.Request{
		Sheets: sheets, Baseline: baseline, Player: player, Locale: req.GetLocale(),
	})), nil
}
