package service

import (
	"context"
	"errors"
	"strconv"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/protoadapt"

	"example.com/courtkin/service/wire"
)

// Domain is the domain of every google.rpc.ErrorInfo of this service.
const Domain = "courtkin.example.com"

// Reasons of google.rpc.ErrorInfo.
const (
	ReasonLimit      = "LIMIT_PASSED" // metadata: limit, most
	ReasonCutOff     = "CUT_OFF"      // a stream ended without its finish
	ReasonFramesLost = "FRAMES_LOST"  // fewer frames came than finish says
)

// maxViolations keeps an error's details small; a client that has more wrong
// than this learns of the rest after mending these.
const maxViolations = 16

// statusError turns any error of this package's insides into a gRPC status.
func statusError(err error) error {
	if err == nil {
		return nil
	}
	var (
		problems wire.Problems
		limit    *wire.LimitError
	)
	switch {
	case errors.As(err, &problems):
		return invalid(problems)
	case errors.As(err, &limit):
		return exhausted(limit)
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return status.FromContextError(err).Err()
	}
	if _, ok := status.FromError(err); ok {
		return err
	}
	return status.Error(codes.Internal, "internal error")
}

// invalid returns INVALID_ARGUMENT with one violation for each problem.
func invalid(ps wire.Problems) error {
	if len(ps) > maxViolations {
		ps = ps[:maxViolations]
	}
	detail := &errdetails.BadRequest{}
	for _, p := range ps {
		detail.FieldViolations = append(detail.FieldViolations,
			&errdetails.BadRequest_FieldViolation{Field: p.Field, Description: p.Description})
	}
	return withDetails(codes.InvalidArgument, ps.Error(), detail)
}

// exhausted returns RESOURCE_EXHAUSTED naming the limit.
func exhausted(l *wire.LimitError) error {
	return withDetails(codes.ResourceExhausted, l.Error(), &errdetails.ErrorInfo{
		Reason: ReasonLimit, Domain: Domain,
		Metadata: map[string]string{"limit": l.Limit, "most": strconv.FormatInt(l.Most, 10)},
	})
}

// lost returns DATA_LOSS for the given reason.
func lost(reason, text string) error {
	return withDetails(codes.DataLoss, text, &errdetails.ErrorInfo{Reason: reason, Domain: Domain})
}

func withDetails(code codes.Code, text string, detail protoadapt.MessageV1) error {
	s, err := status.New(code, text).WithDetails(detail)
	if err != nil { // only for code OK or a detail that cannot be packed
		return status.Error(code, text)
	}
	return s.Err()
}
