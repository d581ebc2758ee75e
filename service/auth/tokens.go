package auth

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rsa"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"strings"
	"time"

	"github.com/golang-jwt/jwt/v5"
)

// tokens checks JWTs by the keys of a JWKS (RFC 7517).
type tokens struct {
	keys   map[string]jwk // by kid
	parser *jwt.Parser
}

type jwk struct {
	algorithm string
	key       crypto.PublicKey
}

// algorithms are those with a public key; "none" and shared secrets are refused.
var algorithms = []string{"RS256", "ES256", "EdDSA"}

// clockLeeway is how far the issuer's clock may be from ours.
const clockLeeway = 30 * time.Second

// newTokens reads a JWKS; issuer and audience are demanded when they are given.
func newTokens(raw []byte, issuer, audience string, now func() time.Time) (*tokens, error) {
	keys, unfit, err := readKeys(raw)
	if err != nil {
		return nil, err
	}
	if unfit != nil { // a file of our own holds what is meant for us
		return nil, unfit
	}
	return &tokens{keys: keys, parser: newParser(issuer, audience, now)}, nil
}

// readKeys reads the keys of a JWKS by kid; unfit is what was wrong with the first key
// that was left out.
func readKeys(raw []byte) (keys map[string]jwk, unfit, err error) {
	var set struct {
		Keys []map[string]any `json:"keys"`
	}
	if err := json.Unmarshal(raw, &set); err != nil {
		return nil, nil, err
	}
	keys = map[string]jwk{}
	for i, k := range set.Keys {
		kid, _ := k["kid"].(string)
		key, err := publicKey(k)
		if _, twice := keys[kid]; err == nil && twice {
			err = errors.New("the kid is there twice")
		}
		if err != nil {
			if unfit == nil {
				unfit = fmt.Errorf("key %d (%q): %w", i, kid, err)
			}
			continue
		}
		keys[kid] = key
	}
	if len(keys) == 0 {
		if unfit != nil {
			return nil, nil, unfit
		}
		return nil, nil, errors.New("has no key")
	}
	return keys, unfit, nil
}

// newParser checks what a token says of itself.
func newParser(issuer, audience string, now func() time.Time) *jwt.Parser {
	options := []jwt.ParserOption{
		jwt.WithValidMethods(algorithms), jwt.WithExpirationRequired(), jwt.WithLeeway(clockLeeway), jwt.WithTimeFunc(now),
	}
	if issuer != "" {
		options = append(options, jwt.WithIssuer(issuer))
	}
	if audience != "" {
		options = append(options, jwt.WithAudience(audience))
	}
	return jwt.NewParser(options...)
}

// publicKey reads the public key of a JWK (RFC 7518 §6, RFC 8037).
func publicKey(k map[string]any) (jwk, error) {
	number := func(name string) []byte {
		text, _ := k[name].(string)
		raw, _ := base64.RawURLEncoding.DecodeString(text)
		return raw
	}
	kty, _ := k["kty"].(string)
	crv, _ := k["crv"].(string)
	switch {
	case kty == "RSA":
		e := new(big.Int).SetBytes(number("e"))
		key := &rsa.PublicKey{N: new(big.Int).SetBytes(number("n")), E: int(e.Int64())}
		if key.N.BitLen() < 2048 || !e.IsInt64() || e.Int64() < 3 || e.Int64() > 1<<31-1 {
			return jwk{}, errors.New("RSA keys must have 2048 bits or more")
		}
		return jwk{"RS256", key}, nil
	case kty == "EC" && crv == "P-256":
		x, y := number("x"), number("y")
		if len(x) != 32 || len(y) != 32 {
			return jwk{}, errors.New("x and y must be 32 bytes")
		}
		key, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), append(append([]byte{4}, x...), y...))
		if err != nil {
			return jwk{}, errors.New("is no point of P-256")
		}
		return jwk{"ES256", key}, nil
	case kty == "OKP" && crv == "Ed25519":
		x := number("x")
		if len(x) != ed25519.PublicKeySize {
			return jwk{}, errors.New("x must be 32 bytes")
		}
		return jwk{"EdDSA", ed25519.PublicKey(x)}, nil
	}
	return jwk{}, fmt.Errorf("kind %q %q: must be RSA, EC P-256 or OKP Ed25519", kty, crv)
}

// claims are what we read of a token: the tenant, its subject without one, and
// scopes as a text with blanks (RFC 8693 §4.2).
type claims struct {
	Tenant string `json:"tenant"`
	Scope  string `json:"scope"`
	jwt.RegisteredClaims
}

// find returns the caller of a token.
func (t *tokens) find(token string) (*Caller, bool) {
	return callerIn(token, t.parser, func(kid string) (jwk, bool) {
		k, ok := t.keys[kid]
		return k, ok
	})
}

// callerIn returns the caller of a token whose key is looked up by its kid.
func callerIn(token string, parser *jwt.Parser, key func(kid string) (jwk, bool)) (*Caller, bool) {
	c := &claims{}
	_, err := parser.ParseWithClaims(token, c, func(parsed *jwt.Token) (any, error) {
		kid, _ := parsed.Header["kid"].(string)
		k, ok := key(kid)
		if !ok || k.algorithm != parsed.Method.Alg() {
			return nil, errors.New("no such key")
		}
		return k.key, nil
	})
	if err != nil {
		return nil, false
	}
	caller := &Caller{Tenant: c.Tenant}
	if caller.Tenant == "" {
		caller.Tenant = c.Subject
	}
	for s := range strings.FieldsSeq(c.Scope) {
		caller.Scopes = append(caller.Scopes, Scope(s))
	}
	return caller, caller.Tenant != ""
}
