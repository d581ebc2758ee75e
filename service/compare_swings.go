package service

import (
	"context"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/compare"
	"example.com/courtkin/service/wire"
)

// CompareSwings sets one analysed swing against another.
func (s *Server) CompareSwings(_ context.Context, req *pb.CompareSwingsRequest) (*pb.CompareSwingsResponse, error) {
	reference, err := wire.Sheet(req.GetReference(), "reference")
	if err != nil {
		return nil, statusError(err)
	}
	candidate, err := wire.Sheet(req.GetCandidate(), "candidate")
	if err != nil {
		return nil, statusError(err)
	}
	options := compare.Default()
	options.Locale = req.GetLocale()
	if options.Reference, err = wire.Player(req.GetReferencePlayer(), "reference_player"); err != nil {
		return nil, statusError(err)
	}
	if options.Candidate, err = wire.Player(req.GetCandidatePlayer(), "candidate_player"); err != nil {
		return nil, statusError(err)
	}
	result, err := compare.Swings(reference, candidate, options)
	if err != nil {
		return nil, statusError(err)
	}
	return wire.Comparison(result), nil
}
