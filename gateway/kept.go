package gateway

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"strconv"
	"strings"
)

// kept lets clients keep an answer that changes with the version only: it
// carries a tag of its text, and one who has that text gets 304 and no body.
// Only for answers that are the same for every caller and fit in memory.
func kept(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			next.ServeHTTP(w, r)
			return
		}
		answer := &held{ResponseWriter: w, code: http.StatusOK}
		next.ServeHTTP(answer, r)
		answer.tell(r)
	})
}

// held keeps an answer back until it is whole.
type held struct {
	http.ResponseWriter
	code int
	body bytes.Buffer
}

// WriteHeader notes the code.
func (h *held) WriteHeader(code int) { h.code = code }

// Write keeps the bytes.
func (h *held) Write(p []byte) (int, error) { return h.body.Write(p) }

// Unwrap lets deadlines be set.
func (h *held) Unwrap() http.ResponseWriter { return h.ResponseWriter }

// tell answers, with as little as the caller needs.
func (h *held) tell(r *http.Request) {
	head := h.Header()
	if h.code == http.StatusOK {
		sum := sha256.Sum256(h.body.Bytes())
		// Weak: gzip changes the bytes and not what they say.
		tag := `W/"` + hex.EncodeToString(sum[:12]) + `"`
		head.Set("ETag", tag)
		head.Set("Cache-Control", "no-cache") // kept, but asked about: a 304 is cheap
		if has(r.Header.Values("If-None-Match"), tag) {
			head.Del("Content-Type")
			head.Del("Content-Length")
			h.ResponseWriter.WriteHeader(http.StatusNotModified)
			return
		}
	}
	h.ResponseWriter.WriteHeader(h.code)
	_, _ = h.ResponseWriter.Write(h.body.Bytes())
}

// has reports whether one of the tags of If-None-Match is tag, in the weak
// comparison of RFC 9110, section 8.8.3.2.
func has(lines []string, tag string) bool {
	for _, line := range lines {
		for one := range strings.SplitSeq(line, ",") {
			one = strings.TrimSpace(one)
			if one == "*" || strings.TrimPrefix(one, "W/") == strings.TrimPrefix(tag, "W/") {
				return true
			}
		}
	}
	return false
}

// acceptsGzip reports whether the caller reads gzip: it names gzip, or *, with
// a weight above 0 (RFC 9110, section 12.5.3).
func acceptsGzip(r *http.Request) bool {
	weights := map[string]bool{}
	for _, line := range r.Header.Values("Accept-Encoding") {
		for one := range strings.SplitSeq(strings.ToLower(line), ",") {
			name, q, weighed := strings.Cut(strings.ReplaceAll(one, " ", ""), ";q=")
			weight, err := strconv.ParseFloat(q, 64)
			weights[name] = !weighed || err == nil && weight > 0
		}
	}
	if wanted, named := weights["gzip"]; named {
		return wanted
	}
	return weights["*"]
}
