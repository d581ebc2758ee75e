package auth

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Key is one line of the keys' file: an API key is kept as its hash alone.
type Key struct {
	ID      string    `json:"id"` // told in the key itself: finds the line
	Tenant  string    `json:"tenant"`
	Hash    string    `json:"sha256"` // of the secret, in hexadecimal
	Scopes  []Scope   `json:"scopes"`
	Expires time.Time `json:"expires,omitzero"`
}

// Quota is what a tenant may use of one replica; 0 is no bound.
type Quota struct {
	CallsPerSecond  float64 `json:"calls_per_second,omitempty"` // a live practice counts as one call
	Streams         int     `json:"streams,omitempty"`          // live practices at once
	FramesPerSecond float64 `json:"frames_per_second,omitempty"`
	FramesPerDay    int64   `json:"frames_per_day,omitempty"` // by UTC
}

// File is the keys' file.
type File struct {
	Keys    []Key            `json:"keys"`
	Tenants map[string]Quota `json:"tenants,omitempty"` // a tenant that is not here has the quota of "*", if that is
}

// ParseFile reads a keys' file strictly.
func ParseFile(raw []byte) (*File, error) {
	f := &File{}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.DisallowUnknownFields()
	if err := d.Decode(f); err != nil {
		return nil, err
	}
	if d.More() {
		return nil, errors.New("more than one JSON value")
	}
	seen := map[string]bool{}
	for _, k := range f.Keys {
		if err := k.check(); err != nil {
			return nil, fmt.Errorf("key %q: %w", k.ID, err)
		}
		if seen[k.ID] {
			return nil, fmt.Errorf("key %q: its id is there twice", k.ID)
		}
		seen[k.ID] = true
	}
	for name, q := range f.Tenants {
		if q.CallsPerSecond < 0 || q.Streams < 0 || q.FramesPerSecond < 0 || q.FramesPerDay < 0 {
			return nil, fmt.Errorf("tenant %q: a quota is negative", name)
		}
	}
	return f, nil
}

func (k Key) check() error {
	if hash, err := hex.DecodeString(k.Hash); err != nil || len(hash) != sha256.Size {
		return errors.New("sha256 must be 64 hexadecimal digits")
	}
	if k.ID == "" || strings.Trim(k.ID, idLetters) != "" || k.Tenant == "" {
		return errors.New("id must be letters and digits, tenant must be given")
	}
	return checkScopes(k.Scopes)
}

func checkScopes(scopes []Scope) error {
	for _, s := range scopes {
		if !slices.Contains([]Scope{Analyse, Stream, Advise}, s) {
			return fmt.Errorf("scope %q: must be analyse, stream or advise", s)
		}
	}
	if len(scopes) == 0 {
		return errors.New("has no scope")
	}
	return nil
}

// An API key is "ck_", its id, "_", and 32 random bytes in base64url: letters
// that may stand in a header and in a WebSocket's subprotocol.
const (
	keyPrefix = "ck_"
	idLetters = "0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ-"
)

// NewKey draws an API key and returns it with the line to keep of it.
func NewKey(tenant string, scopes []Scope, expires time.Time) (key string, line Key, err error) {
	var secret [32]byte
	if _, err := rand.Read(secret[:]); err != nil {
		return "", Key{}, err
	}
	id := strings.ToLower(rand.Text()[:10])
	text := base64.RawURLEncoding.EncodeToString(secret[:])
	hash := sha256.Sum256([]byte(text))
	line = Key{ID: id, Tenant: tenant, Hash: hex.EncodeToString(hash[:]), Scopes: scopes, Expires: expires}
	return keyPrefix + id + "_" + text, line, line.check()
}

// keys finds API keys.
type keys struct{ byID map[string]entry }

type entry struct {
	Key
	hash [sha256.Size]byte
}

func newKeys(list []Key) keys {
	out := keys{map[string]entry{}}
	for _, k := range list {
		e := entry{Key: k}
		_, _ = hex.Decode(e.hash[:], []byte(k.Hash)) // checked when it was read
		out.byID[k.ID] = e
	}
	return out
}

// find returns the caller of a key. The secret's hash is compared in constant
// time, also for an id that nobody has. A fast hash will do: the secret is 256
// random bits, and no list of likely ones exists.
func (k keys) find(token string, now time.Time) (*Caller, bool) {
	id, secret, _ := strings.Cut(strings.TrimPrefix(token, keyPrefix), "_")
	e, there := k.byID[id]
	hash := sha256.Sum256([]byte(secret))
	same := subtle.ConstantTimeCompare(hash[:], e.hash[:]) == 1
	if !there || !same || !e.Expires.IsZero() && !now.Before(e.Expires) {
		return nil, false
	}
	return &Caller{Tenant: e.Tenant, Scopes: e.Scopes}, true
}
