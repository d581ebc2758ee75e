package main

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"strings"
	"time"

	"example.com/courtkin/service/auth"
)

// gateFlags say who may call.
type gateFlags struct {
	APIKeys     string `name:"api-keys" type:"path" placeholder:"FILE" env:"COURTKIN_API_KEYS" help:"File of hashed API keys and tenants' quotas; courtkin key makes its lines."`
	JWKS        string `name:"jwks" type:"path" placeholder:"FILE" env:"COURTKIN_JWKS" help:"JWKS file: tokens (JWT) signed by its keys are let in."`
	OIDCIssuer  string `name:"oidc-issuer" placeholder:"URL" env:"COURTKIN_OIDC_ISSUER" help:"OpenID issuer: tokens (JWT) that it signs are let in; its keys are asked for at URL/.well-known/openid-configuration."`
	JWTIssuer   string `name:"jwt-issuer" env:"COURTKIN_JWT_ISSUER" help:"Issuer that tokens of --jwks must name."`
	JWTAudience string `name:"jwt-audience" env:"COURTKIN_JWT_AUDIENCE" help:"Audience that tokens must name."`
}

// tlsFlags say how connections are encrypted.
type tlsFlags struct {
	TLSCert  string `name:"tls-cert" type:"path" placeholder:"FILE" env:"COURTKIN_TLS_CERT" help:"Certificate (PEM) of both addresses; without it they are plain."`
	TLSKey   string `name:"tls-key" type:"path" placeholder:"FILE" env:"COURTKIN_TLS_KEY" help:"Its key (PEM)."`
	ClientCA string `name:"client-ca" type:"path" placeholder:"FILE" env:"COURTKIN_CLIENT_CA" help:"Authority (PEM) whose certificates clients must show; their name is the tenant."`
}

// gate reads the files.
func (f *gateFlags) gate(certificates bool) (*auth.Gate, error) {
	c := auth.Config{Issuer: f.JWTIssuer, Audience: f.JWTAudience, OIDC: f.OIDCIssuer, Certificates: certificates}
	for _, file := range []struct {
		flag, name string
		to         *[]byte
	}{{"--api-keys", f.APIKeys, &c.Keys}, {"--jwks", f.JWKS, &c.JWKS}} {
		if file.name == "" {
			continue
		}
		raw, err := os.ReadFile(file.name)
		if err != nil {
			return nil, usage("%s %s: %w", file.flag, file.name, plain(err))
		}
		*file.to = raw
	}
	if f.JWKS == "" && (f.JWTIssuer != "" || f.JWTAudience != "" && f.OIDCIssuer == "") {
		return nil, usage("--jwt-issuer needs --jwks, --jwt-audience that or --oidc-issuer")
	}
	gate, err := auth.New(c)
	if err != nil {
		return nil, usage("%w", err)
	}
	return gate, nil
}

// config reads certificates; nil without one.
func (f *tlsFlags) config() (*tls.Config, error) {
	if f.TLSCert == "" && f.TLSKey == "" {
		if f.ClientCA != "" {
			return nil, usage("--client-ca needs --tls-cert and --tls-key")
		}
		return nil, nil
	}
	cert, err := tls.LoadX509KeyPair(f.TLSCert, f.TLSKey)
	if err != nil {
		return nil, usage("--tls-cert, --tls-key: %w", err)
	}
	c := &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}}
	if f.ClientCA == "" {
		return c, nil
	}
	raw, err := os.ReadFile(f.ClientCA)
	if err != nil {
		return nil, usage("--client-ca %s: %w", f.ClientCA, plain(err))
	}
	c.ClientCAs, c.ClientAuth = x509.NewCertPool(), tls.RequireAndVerifyClientCert
	if !c.ClientCAs.AppendCertsFromPEM(raw) {
		return nil, usage("--client-ca %s: holds no certificate", f.ClientCA)
	}
	return c, nil
}

// said tells who may call, for the line at start.
func (f *gateFlags) said(t tlsFlags, addresses ...net.Addr) string {
	var ways []string
	for _, w := range []struct {
		given, way string
	}{{f.APIKeys, "API keys"}, {f.JWKS + f.OIDCIssuer, "signed tokens"}, {t.ClientCA, "client certificates"}} {
		if w.given != "" {
			ways = append(ways, w.way)
		}
	}
	if len(ways) > 0 {
		return "asks for " + strings.Join(ways, " or ")
	}
	for _, a := range addresses {
		if !loopback(a.String()) {
			return fmt.Sprintf("OPEN TO THE NETWORK: whoever reaches %s may call; see --api-keys", a)
		}
	}
	return "open, to this machine alone"
}

// keyCmd makes API keys.
type keyCmd struct {
	Tenant string        `required:"" help:"Whose key it is: what quotas count for."`
	Scope  []auth.Scope  `default:"analyse,stream,advise" help:"What it may do: analyse, stream, advise."`
	Valid  time.Duration `help:"How long it is valid; 0: until its line is taken away."`
}

// Run prints the key and the line to keep of it.
func (cmd *keyCmd) Run(c *console) error {
	expires := time.Time{}
	if cmd.Valid > 0 {
		expires = time.Now().Add(cmd.Valid).UTC().Truncate(time.Second)
	}
	key, line, err := auth.NewKey(cmd.Tenant, cmd.Scope, expires)
	if err != nil {
		return usage("%w", err)
	}
	raw, err := json.Marshal(line)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(c.out, "key   %s\nline  %s\n\nThe key is shown this once; the line goes into \"keys\" of the file of --api-keys.\n", key, raw)
	return err
}
