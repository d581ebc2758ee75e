package gateway

import (
	"context"
	"errors"
	"net/http"
	"strconv"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/protoadapt"
)

func detailed(code codes.Code, text string, detail protoadapt.MessageV1) *status.Status {
	s := status.New(code, text)
	if with, err := s.WithDetails(detail); err == nil {
		return with
	}
	return s
}

// statusJSON returns google.rpc.Status as JSON.
func statusJSON(s *status.Status) []byte {
	raw, err := protojson.Marshal(s.Proto())
	if err != nil { // a detail of a type that is not known here
		raw, _ = protojson.Marshal(status.New(s.Code(), s.Message()).Proto())
	}
	return raw
}

// writeStatus answers a call with an error.
func writeStatus(w http.ResponseWriter, httpCode int, s *status.Status) {
	w.Header().Set("Content-Type", "application/json")
	if s.Code() == codes.ResourceExhausted {
		w.Header().Set("Retry-After", "1")
	}
	w.WriteHeader(httpCode)
	_, _ = w.Write(append(statusJSON(s), '\n'))
}

// callError is grpc-gateway's error handler for single calls.
func callError(_ context.Context, _ *runtime.ServeMux, _ runtime.Marshaler, w http.ResponseWriter, _ *http.Request, err error) {
	httpCode := 0
	var routed *runtime.HTTPStatusError
	if errors.As(err, &routed) {
		httpCode, err = routed.HTTPStatus, routed.Err
	}
	s := status.Convert(err)
	if s.Code() == codes.InvalidArgument && len(s.Proto().GetDetails()) == 0 {
		s = jsonError(s.Message())
	}
	if httpCode == 0 {
		httpCode = runtime.HTTPStatusFromCode(s.Code())
	}
	writeStatus(w, httpCode, s)
}

// routeError answers a path or method that no call has.
func routeError(ctx context.Context, mux *runtime.ServeMux, m runtime.Marshaler, w http.ResponseWriter, r *http.Request, httpCode int) {
	code := codes.NotFound
	if httpCode == http.StatusMethodNotAllowed {
		code = codes.Unimplemented
	}
	s := status.New(code, r.Method+" "+strconv.Quote(r.URL.Path)+": "+http.StatusText(httpCode))
	callError(ctx, mux, m, w, r, &runtime.HTTPStatusError{HTTPStatus: httpCode, Err: s.Err()})
}
