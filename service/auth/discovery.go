package auth

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"mime"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"

	"github.com/golang-jwt/jwt/v5"
)

// discovery checks JWTs by the keys that an OpenID issuer publishes (OpenID Connect
// Discovery 1.0 §4): the issuer's configuration names the place of its JWKS.
//
// Keys are kept in memory. They are asked for again when they are old, beside the calls,
// and when a token names a key that is not among them, for which its call waits; so a
// new key of the issuer's is known at once. Neither happens oftener than refetchEvery,
// whoever asks.
type discovery struct {
	issuer string
	client *http.Client
	parser *jwt.Parser
	now    func() time.Time

	mu      sync.Mutex
	keys    map[string]jwk
	got     time.Time     // when keys were had
	tried   time.Time     // when they were last asked for
	working chan struct{} // closed when the fetch under way is over; nil: none is
}

// Bounds of discovery.
const (
	fetchWait    = 3 * time.Second  // for both documents; a call waits no longer
	refetchEvery = 30 * time.Second // at most; an issuer keeps a new key out of use for longer
	freshFor     = time.Hour        // then keys are asked for again
	staleMost    = 24 * time.Hour   // while the issuer cannot be reached, old keys hold for so long
	maxDocument  = 256 << 10        // bytes; big issuers' key sets have some 10 KB
)

// newDiscovery asks the issuer for its keys. Tokens must name the issuer, and the
// audience when it is given.
func newDiscovery(issuer, audience string, client *http.Client, now func() time.Time) (*discovery, error) {
	if err := fitURL(issuer); err != nil {
		return nil, err
	}
	d := &discovery{issuer: issuer, client: bounded(client), parser: newParser(issuer, audience, now), now: now}
	d.tried = now()
	keys, err := d.fetch()
	if err != nil {
		return nil, err
	}
	d.keys, d.got = keys, now()
	return d, nil
}

// bounded is a client that follows no redirect: a key's place is where it was said to be.
func bounded(client *http.Client) *http.Client {
	c := http.Client{}
	if client != nil {
		c = *client
	}
	c.Timeout = fetchWait
	c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	return &c
}

// fitURL refuses what is no https address; http is taken from this machine alone.
func fitURL(text string) error {
	u, err := url.Parse(text)
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" {
		return fmt.Errorf("%q is no address of an issuer", text)
	}
	if ip := net.ParseIP(u.Hostname()); u.Scheme != "https" && !(u.Scheme == "http" && (u.Hostname() == "localhost" || ip != nil && ip.IsLoopback())) {
		return fmt.Errorf("%q must be https", text)
	}
	return nil
}

// fetch gets the issuer's keys.
func (d *discovery) fetch() (map[string]jwk, error) {
	ctx, cancel := context.WithTimeout(context.Background(), fetchWait)
	defer cancel()
	raw, err := d.get(ctx, strings.TrimSuffix(d.issuer, "/")+"/.well-known/openid-configuration")
	if err != nil {
		return nil, err
	}
	var c struct {
		Issuer string `json:"issuer"`
		JWKS   string `json:"jwks_uri"`
	}
	if err := json.Unmarshal(raw, &c); err != nil {
		return nil, fmt.Errorf("the configuration: %w", err)
	}
	if c.Issuer != d.issuer { // §4.3: must be identical
		return nil, fmt.Errorf("the configuration is of the issuer %q", c.Issuer)
	}
	if err := fitURL(c.JWKS); err != nil {
		return nil, fmt.Errorf("jwks_uri: %w", err)
	}
	if raw, err = d.get(ctx, c.JWKS); err != nil {
		return nil, err
	}
	keys, _, err := readKeys(raw) // an issuer's set may hold keys for others' uses
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.JWKS, err)
	}
	return keys, nil
}

func (d *discovery) get(ctx context.Context, address string) ([]byte, error) {
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, address, nil)
	if err != nil {
		return nil, err
	}
	req.Header.Set("Accept", "application/json")
	res, err := d.client.Do(req)
	if err != nil {
		return nil, err
	}
	defer func() { _ = res.Body.Close() }()
	kind, _, _ := mime.ParseMediaType(res.Header.Get("Content-Type"))
	if res.StatusCode != http.StatusOK || !strings.HasSuffix(kind, "json") {
		return nil, fmt.Errorf("%s answers %s, %q", address, res.Status, kind)
	}
	raw, err := io.ReadAll(io.LimitReader(res.Body, maxDocument+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > maxDocument {
		return nil, fmt.Errorf("%s answers more than %d bytes", address, maxDocument)
	}
	return raw, nil
}

// find returns the caller of a token.
func (d *discovery) find(token string) (*Caller, bool) { return callerIn(token, d.parser, d.key) }

// key returns the key of a kid.
func (d *discovery) key(kid string) (jwk, bool) {
	k, ok, wait := d.look(kid)
	if wait == nil {
		return k, ok
	}
	timer := time.NewTimer(fetchWait)
	defer timer.Stop()
	select {
	case <-wait:
	case <-timer.C:
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	k, ok = d.keys[kid]
	return k, ok && d.now().Sub(d.got) < staleMost
}

// look returns the key of a kid, or what to wait for before it is looked up again.
func (d *discovery) look(kid string) (k jwk, ok bool, wait <-chan struct{}) {
	d.mu.Lock()
	defer d.mu.Unlock()
	now := d.now()
	age := now.Sub(d.got)
	k, ok = d.keys[kid]
	ok = ok && age < staleMost
	if ok && age < freshFor {
		return k, true, nil
	}
	if d.working == nil && now.Sub(d.tried) >= refetchEvery {
		d.tried = now
		d.working = make(chan struct{})
		go d.renew(d.working)
	}
	if ok || d.working == nil {
		return k, ok, nil
	}
	return k, false, d.working
}

// renew asks for the keys; where that fails the old ones stay.
func (d *discovery) renew(over chan struct{}) {
	keys, err := d.fetch()
	d.mu.Lock()
	defer d.mu.Unlock()
	if err == nil {
		d.keys, d.got = keys, d.now()
	}
	d.working = nil
	close(over)
}
