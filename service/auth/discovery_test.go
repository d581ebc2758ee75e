package auth

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
)

// provider is an OpenID issuer on this machine.
type provider struct {
	*httptest.Server
	mu     sync.Mutex
	jwks   []byte
	config string // "" for the honest one
	down   bool
	asked  atomic.Int32 // for keys
}

func newProvider(t *testing.T, jwks []byte) *provider {
	p := &provider{jwks: jwks}
	p.Server = httptest.NewServer(p)
	t.Cleanup(p.Close)
	return p
}

func (p *provider) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	switch {
	case p.down:
		http.Error(w, "down", http.StatusServiceUnavailable)
	case r.URL.Path == "/.well-known/openid-configuration":
		c := p.config
		if c == "" {
			c = fmt.Sprintf(`{"issuer":%q,"jwks_uri":%q,"more":[1]}`, p.URL, p.URL+"/keys")
		}
		_, _ = w.Write([]byte(c))
	case r.URL.Path == "/keys":
		p.asked.Add(1)
		_, _ = w.Write(p.jwks)
	case r.URL.Path == "/elsewhere":
		http.Redirect(w, r, "/keys", http.StatusFound)
	default:
		http.NotFound(w, r)
	}
}

func (p *provider) set(change func()) {
	p.mu.Lock()
	defer p.mu.Unlock()
	change()
}

// watchClock is a clock that a test sets.
type watchClock struct{ atomic.Int64 }

func (c *watchClock) now() time.Time          { return time.Unix(0, c.Load()) }
func (c *watchClock) forward(d time.Duration) { c.Add(int64(d)) }

func tokenOf(t *testing.T, iss issuer, kid, from string, end time.Time) string {
	t.Helper()
	token := jwt.NewWithClaims(jwt.SigningMethodEdDSA, jwt.MapClaims{"iss": from, "aud": "courtkin", "sub": "u", "scope": "analyse", "exp": end.Unix()})
	token.Header["kid"] = kid
	text, err := token.SignedString(iss.ed)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// renamed is an issuer's key set under other kids.
func renamed(is issuer, suffix string) []byte {
	return []byte(strings.NewReplacer(`"kid":"r"`, `"kid":"r`+suffix+`"`, `"kid":"e"`, `"kid":"e`+suffix+`"`, `"kid":"d"`, `"kid":"d`+suffix+`"`).Replace(string(is.jwks)))
}

func TestDiscovery(t *testing.T) {
	is := newIssuer(t)
	p := newProvider(t, is.jwks)
	clock := &watchClock{}
	clock.Store(time.Now().UnixNano())
	g, err := New(Config{OIDC: p.URL, Audience: "courtkin", Now: clock.now})
	if err != nil {
		t.Fatal(err)
	}
	if g.Open() {
		t.Error("open with an issuer")
	}
	asks := func(what string, is issuer, kid, from string, want bool, fetched int32) {
		t.Helper()
		if got := g.bearer("Bearer "+tokenOf(t, is, kid, from, clock.now().Add(time.Hour))) != nil; got != want {
			t.Errorf("%s: let in %v, want %v", what, got, want)
		}
		if n := p.asked.Load(); n != fetched {
			t.Errorf("%s: keys were asked for %d times, want %d", what, n, fetched)
		}
	}
	asks("a key of the start", is, "d", p.URL, true, 1)
	asks("another issuer's name", is, "d", "https://x.example", false, 1)
	asks("an unknown key at once", is, "new", p.URL, false, 1)
	clock.forward(refetchEvery)
	asks("an unknown key later", is, "new", p.URL, false, 2)
	asks("again", is, "new2", p.URL, false, 2)
	p.set(func() { p.jwks = renamed(is, "2") })
	asks("a new key, too soon", is, "d2", p.URL, false, 2)
	clock.forward(refetchEvery)
	asks("a new key", is, "d2", p.URL, true, 3)
	asks("the key withdrawn", is, "d", p.URL, false, 3)
	p.set(func() { p.down = true })
	clock.forward(freshFor + time.Second)
	asks("an old key while the issuer is down", is, "d2", p.URL, true, 3)
	clock.forward(staleMost)
	asks("a day later", is, "d2", p.URL, false, 3)
	p.set(func() { p.down = false })
	clock.forward(refetchEvery)
	asks("up again", is, "d2", p.URL, true, 4)
}

// TestDiscoveryIsAskedOnceByMany: a crowd with a new key makes one fetch.
func TestDiscoveryIsAskedOnceByMany(t *testing.T) {
	is := newIssuer(t)
	p := newProvider(t, is.jwks)
	clock := &watchClock{}
	clock.Store(time.Now().UnixNano())
	g, err := New(Config{OIDC: p.URL, Now: clock.now})
	if err != nil {
		t.Fatal(err)
	}
	p.set(func() { p.jwks = renamed(is, "2") })
	clock.forward(refetchEvery)
	token := "Bearer " + tokenOf(t, is, "d2", p.URL, clock.now().Add(time.Hour))
	var crowd sync.WaitGroup
	var in atomic.Int32
	for range 50 {
		crowd.Go(func() {
			if g.bearer(token) != nil {
				in.Add(1)
			}
		})
	}
	crowd.Wait()
	if in.Load() != 50 || p.asked.Load() != 2 {
		t.Errorf("%d of 50 let in, keys asked for %d times, want 2", in.Load(), p.asked.Load())
	}
}

func TestUnfitIssuers(t *testing.T) {
	is := newIssuer(t)
	for name, c := range map[string]struct {
		config string // %s is the issuer's address
		jwks   []byte
		where  string
	}{
		"no such place":       {where: "/x"},
		"plain http":          {where: "http://id.example"},
		"no address":          {where: "id"},
		"credentials":         {where: "https://a:b@id.example"},
		"another's":           {config: `{"issuer":"https://x.example","jwks_uri":"%[1]s/keys"}`},
		"keys by plain http":  {config: `{"issuer":%[1]q,"jwks_uri":"http://x.example/keys"}`},
		"keys nowhere":        {config: `{"issuer":%[1]q,"jwks_uri":"%[1]s/none"}`},
		"keys by a redirect":  {config: `{"issuer":%[1]q,"jwks_uri":"%[1]s/elsewhere"}`},
		"no JSON":             {config: `{`},
		"no keys":             {jwks: []byte(`{"keys":[]}`)},
		"no key that is ours": {jwks: []byte(`{"keys":[{"kty":"oct","kid":"x","k":"AAAA"}]}`)},
		"endless":             {jwks: []byte(`{"keys":[],"x":"` + strings.Repeat("x", maxDocument) + `"}`)},
	} {
		p := newProvider(t, is.jwks)
		if c.config != "" {
			p.config = fmt.Sprintf(c.config, p.URL)
		}
		if c.jwks != nil {
			p.jwks = c.jwks
		}
		where := p.URL + c.where
		if strings.Contains(c.where, "://") || c.where == "id" {
			where = c.where
		}
		if _, err := New(Config{OIDC: where}); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
}

// TestOthersKeysAreLeftOut: an issuer's set may hold keys for other uses.
func TestOthersKeysAreLeftOut(t *testing.T) {
	is := newIssuer(t)
	var set struct {
		Keys []map[string]any `json:"keys"`
	}
	if err := json.Unmarshal(is.jwks, &set); err != nil {
		t.Fatal(err)
	}
	set.Keys = append([]map[string]any{{"kty": "oct", "kid": "x", "k": "AAAA"}, {"kty": "EC", "kid": "p", "crv": "P-521"}}, set.Keys...)
	raw, _ := json.Marshal(set)
	p := newProvider(t, raw)
	g, err := New(Config{OIDC: p.URL})
	if err != nil {
		t.Fatal(err)
	}
	if g.bearer("Bearer "+tokenOf(t, is, "d", p.URL, time.Now().Add(time.Hour))) == nil {
		t.Error("refused beside others' keys")
	}
	if _, err := New(Config{JWKS: raw}); err == nil {
		t.Error("a file of our own may hold none of them")
	}
}
