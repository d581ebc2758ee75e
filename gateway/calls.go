package gateway

import (
	"context"
	"io"
	"net/http"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// calls serves the single calls: JSON both ways, or binary protobuf for
// Content-Type application/x-protobuf.
func (g *gateway) calls(conn grpc.ClientConnInterface) (http.Handler, error) {
	mux := runtime.NewServeMux(
		runtime.WithMarshalerOption(runtime.MIMEWildcard, newCoder(g.config.Objects)),
		runtime.WithMarshalerOption("application/x-protobuf", &binary{}),
		runtime.WithErrorHandler(callError),
		runtime.WithRoutingErrorHandler(routeError),
		runtime.WithMetadata(func(_ context.Context, r *http.Request) metadata.MD { return forwarded(r) }),
		runtime.WithIncomingHeaderMatcher(func(string) (string, bool) { return "", false }),
		runtime.WithOutgoingHeaderMatcher(func(string) (string, bool) { return "", false }),
	)
	err := pb.RegisterSwingAnalysisServiceHandlerClient(context.Background(), mux, pb.NewSwingAnalysisServiceClient(conn))
	return g.bounded(mux), err
}

// binary is protobuf as it is.
type binary struct{ runtime.ProtoMarshaller }

// ContentType is the same for every message.
func (*binary) ContentType(any) string { return "application/x-protobuf" }

// bounded bounds the time and the body of a call.
func (g *gateway) bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		tooLong := limitError{"body_bytes", g.config.BodyBytes, "bytes in a body"}
		if r.ContentLength > g.config.BodyBytes {
			w.Header().Set("Connection", "close") // its body will not be read
			writeStatus(w, http.StatusRequestEntityTooLarge, jsonError(tooLong.Error()))
			return
		}
		ctx, cancel := context.WithTimeout(r.Context(), g.config.CallTime)
		defer cancel()
		// Not every writer has deadlines (tests' recorders); the context then rules alone.
		_ = http.NewResponseController(w).SetReadDeadline(time.Now().Add(g.config.CallTime))
		r = r.WithContext(ctx)
		r.Body = &limitedBody{ReadCloser: r.Body, left: g.config.BodyBytes, err: tooLong}
		next.ServeHTTP(w, r)
	})
}

// limitedBody fails with err once more than left bytes were read.
type limitedBody struct {
	io.ReadCloser
	left int64
	err  error
}

func (b *limitedBody) Read(p []byte) (int, error) {
	if b.left < 0 {
		return 0, b.err
	}
	if int64(len(p)) > b.left+1 {
		p = p[:b.left+1]
	}
	n, err := b.ReadCloser.Read(p)
	if b.left -= int64(n); b.left < 0 {
		return 0, b.err
	}
	return n, err
}
