package auth

import (
	"encoding/json"
	"testing"
	"time"
)

// FuzzBearer: no header but the two right ones is let in.
func FuzzBearer(f *testing.F) {
	text, line, err := NewKey("club", []Scope{Analyse}, time.Time{})
	if err != nil {
		f.Fatal(err)
	}
	raw, _ := json.Marshal(File{Keys: []Key{line}})
	jwks := `{"keys":[{"kty":"OKP","kid":"d","crv":"Ed25519","x":"AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA"}]}`
	gate, err := New(Config{Keys: raw, JWKS: []byte(jwks)})
	if err != nil {
		f.Fatal(err)
	}
	for _, s := range []string{"", "Bearer", "Bearer " + text[:30], "Bearer a.b.c", "Basic x", "Bearer eyJhbGciOiJub25lIn0.e30."} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, header string) {
		if gate.bearer(header) != nil {
			t.Errorf("%q was let in", header)
		}
	})
}

// FuzzFiles: files that make no sense are refused, not stumbled over.
func FuzzFiles(f *testing.F) {
	f.Add([]byte(`{"keys":[{"id":"a","tenant":"t","sha256":"00","scopes":["analyse"]}]}`))
	f.Add([]byte(`{"keys":[{"kty":"EC","crv":"P-256","x":"AA","y":"AA"}]}`))
	f.Add([]byte(`{"keys":[{"kty":"RSA","n":"AQAB","e":""}]}`))
	f.Fuzz(func(_ *testing.T, raw []byte) {
		_, _ = ParseFile(raw)
		_, _ = New(Config{JWKS: raw})
	})
}
