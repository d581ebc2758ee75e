package gateway

import (
	"compress/gzip"
	"net/http"
	"strings"
	"sync"
)

// worthZipping is the least first write that is compressed, bytes: a smaller
// answer goes in one packet as it is. Common practice.
const worthZipping = 1400

// zippers are used again and again: each holds some 800 kB.
var zippers = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // the level is valid
	return z
}}

// zipped compresses JSON answers of single calls for those who read gzip. A
// clip's answer is a tenth then. Streams are not for it: they must not wait.
func zipped(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Encoding")
		if !acceptsGzip(r) || r.Method == http.MethodHead {
			next.ServeHTTP(w, r)
			return
		}
		z := &zipping{ResponseWriter: w, code: http.StatusOK}
		defer z.end()
		next.ServeHTTP(z, r)
	})
}

// zipping decides at the first write whether to compress.
type zipping struct {
	http.ResponseWriter
	code    int
	decided bool
	zip     *gzip.Writer // nil: as it is
}

// WriteHeader waits for the first write.
func (z *zipping) WriteHeader(code int) { z.code = code }

// Write compresses or does not.
func (z *zipping) Write(p []byte) (int, error) {
	if !z.decided {
		z.decide(len(p))
	}
	if z.zip == nil {
		return z.ResponseWriter.Write(p)
	}
	return z.zip.Write(p)
}

func (z *zipping) decide(size int) {
	z.decided = true
	head := z.Header()
	if size >= worthZipping && strings.HasPrefix(head.Get("Content-Type"), "application/json") && head.Get("Content-Encoding") == "" {
		head.Set("Content-Encoding", "gzip")
		head.Del("Content-Length")
		z.zip, _ = zippers.Get().(*gzip.Writer)
		z.zip.Reset(z.ResponseWriter)
	}
	z.ResponseWriter.WriteHeader(z.code)
}

// Unwrap lets deadlines be set.
func (z *zipping) Unwrap() http.ResponseWriter { return z.ResponseWriter }

// end writes what is left.
func (z *zipping) end() {
	if !z.decided {
		z.decide(0)
	}
	if z.zip != nil {
		_ = z.zip.Close() // a client who has gone
		zippers.Put(z.zip)
	}
}
