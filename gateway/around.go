package gateway

import (
	"crypto/rand"
	"net/http"
	"regexp"
	"slices"

	"google.golang.org/grpc/metadata"
)

// requestID is the header that names a request in answers and logs.
const requestID = "X-Request-Id"

var goodID = regexp.MustCompile(`^[0-9A-Za-z._-]{1,64}$`)

// identify gives each request an id, its caller's own when that is sound.
func (g *gateway) identify(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		id := r.Header.Get(requestID)
		if !goodID.MatchString(id) {
			id = rand.Text()
			r.Header.Set(requestID, id)
		}
		w.Header().Set(requestID, id)
		guard(w.Header())
		next.ServeHTTP(w, r)
	})
}

// guard sets the headers of every answer; the page has more of its own. What is
// answered is about a body: nobody keeps it unless an answer says otherwise.
func guard(head http.Header) {
	head.Set("X-Content-Type-Options", "nosniff")
	head.Set("Referrer-Policy", "no-referrer")
	head.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
	head.Set("Cache-Control", "no-store")
}

// forwarded are the headers that the service gets as metadata.
func forwarded(r *http.Request) metadata.MD {
	md := metadata.MD{}
	for _, name := range []string{requestID, "Authorization", "Traceparent", "Tracestate"} {
		if v := r.Header.Get(name); v != "" {
			md.Set(name, v)
		}
	}
	if name := certified(r); name != "" {
		md.Set(certificateKey, name)
	}
	return md
}

// streamed is forwarded for a live practice, which says by what it came.
func streamed(r *http.Request, transport string) metadata.MD {
	md := forwarded(r)
	md.Set("courtkin-transport", transport)
	return md
}

// cors lets browsers call from the configured origins and answers their
// questions beforehand. Other origins get no headers, and browsers refuse them.
func (g *gateway) cors(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		origin := r.Header.Get("Origin")
		allowed := origin != "" && (slices.Contains(g.config.Origins, origin) || slices.Contains(g.config.Origins, "*"))
		w.Header().Add("Vary", "Origin")
		if allowed {
			w.Header().Set("Access-Control-Allow-Origin", origin)
			w.Header().Set("Access-Control-Expose-Headers", requestID)
		}
		if r.Method == http.MethodOptions && r.Header.Get("Access-Control-Request-Method") != "" {
			if allowed {
				w.Header().Set("Access-Control-Allow-Methods", "GET, POST")
				w.Header().Set("Access-Control-Allow-Headers", "Content-Type, Authorization, "+requestID)
				w.Header().Set("Access-Control-Max-Age", "600")
			}
			w.WriteHeader(http.StatusNoContent)
			return
		}
		next.ServeHTTP(w, r)
	})
}
