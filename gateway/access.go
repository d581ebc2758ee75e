package gateway

import (
	"net/http"
	"strings"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// bearerProtocol and a token are a subprotocol: browsers cannot set a header on
// a WebSocket, and an address with a token in it would end up in logs.
const bearerProtocol = "courtkin.v1.bearer."

// admitted asks Admit before anything of a body is read.
func (g *gateway) admitted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		fromSubprotocol(r)
		if g.config.Admit == nil {
			next.ServeHTTP(w, r)
			return
		}
		if err := g.config.Admit(r); err != nil {
			s := status.Convert(err)
			if s.Code() == codes.Unauthenticated {
				w.Header().Set("WWW-Authenticate", "Bearer")
			}
			w.Header().Set("Connection", "close") // its body will not be read
			writeStatus(w, runtime.HTTPStatusFromCode(s.Code()), s)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// fromSubprotocol makes a token that came as a subprotocol an Authorization
// header, unless there is one, and takes it out of the list.
func fromSubprotocol(r *http.Request) {
	var left []string
	for _, line := range r.Header.Values("Sec-WebSocket-Protocol") {
		for p := range strings.SplitSeq(line, ",") {
			p = strings.TrimSpace(p)
			token, is := strings.CutPrefix(p, bearerProtocol)
			if !is {
				left = append(left, p)
				continue
			}
			if r.Header.Get("Authorization") == "" {
				r.Header.Set("Authorization", "Bearer "+token)
			}
		}
	}
	if len(left) > 0 {
		r.Header.Set("Sec-WebSocket-Protocol", strings.Join(left, ", "))
	}
}

// certificateKey is the metadata by which a gateway tells a service in the same
// process whose certificate a client showed.
const certificateKey = "courtkin-certificate"

// certified returns the name of a verified client certificate, "" without one.
func certified(r *http.Request) string {
	if r.TLS == nil || len(r.TLS.VerifiedChains) == 0 {
		return ""
	}
	return r.TLS.VerifiedChains[0][0].Subject.CommonName
}
