package main

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"os"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
)

// callFlags say how a command calls a service that runs elsewhere.
type callFlags struct {
	APIKey     string `name:"api-key" placeholder:"KEY" env:"COURTKIN_API_KEY" help:"API key, or a signed token. Rather set the variable: others on this machine can read a command line."`
	TLS        bool   `name:"tls" env:"COURTKIN_TLS" help:"Encrypt, and trust the system's authorities; the three flags below do so too."`
	CA         string `name:"ca" type:"path" placeholder:"FILE" env:"COURTKIN_CA" help:"Authority (PEM) that has signed the service's certificate, in place of the system's."`
	ServerName string `name:"server-name" placeholder:"NAME" env:"COURTKIN_SERVER_NAME" help:"Name that the certificate must bear; empty: the address's."`
	Cert       string `name:"cert" type:"path" placeholder:"FILE" env:"COURTKIN_CERT" help:"Certificate (PEM) to show, for a service that asks for one."`
	CertKey    string `name:"cert-key" type:"path" placeholder:"FILE" env:"COURTKIN_CERT_KEY" help:"Its key (PEM)."`
}

// config is how to encrypt; nil: not at all. A certificate that cannot be
// verified is always refused.
func (f *callFlags) config() (*tls.Config, error) {
	if !f.TLS && f.CA == "" && f.ServerName == "" && f.Cert == "" && f.CertKey == "" {
		return nil, nil
	}
	c := &tls.Config{MinVersion: tls.VersionTLS12, ServerName: f.ServerName}
	if f.CA != "" {
		raw, err := os.ReadFile(f.CA)
		if err != nil {
			return nil, usage("--ca %s: %w", f.CA, plain(err))
		}
		c.RootCAs = x509.NewCertPool()
		if !c.RootCAs.AppendCertsFromPEM(raw) {
			return nil, usage("--ca %s: holds no certificate", f.CA)
		}
	}
	if f.Cert != "" || f.CertKey != "" {
		pair, err := tls.LoadX509KeyPair(f.Cert, f.CertKey)
		if err != nil {
			return nil, usage("--cert, --cert-key: %w", err)
		}
		c.Certificates = []tls.Certificate{pair}
	}
	return c, nil
}

// options are how to dial addresses. A key goes in plain to this machine alone.
func (f *callFlags) options(addresses ...string) ([]grpc.DialOption, error) {
	config, err := f.config()
	if err != nil {
		return nil, err
	}
	if config == nil && f.APIKey != "" {
		for _, a := range addresses {
			if !loopback(a) {
				return nil, usage("--api-key: the key would go to %s in plain; add --tls or --ca", a)
			}
		}
	}
	secure := insecure.NewCredentials()
	if config != nil {
		secure = credentials.NewTLS(config)
	}
	options := []grpc.DialOption{grpc.WithTransportCredentials(secure)}
	if f.APIKey != "" {
		options = append(options, grpc.WithPerRPCCredentials(bearer{f.header(), config != nil}))
	}
	return options, nil
}

// header is the value of the Authorization header; empty without a key.
func (f *callFlags) header() string {
	if f.APIKey == "" {
		return ""
	}
	return "Bearer " + f.APIKey
}

// bearer shows a key with every call.
type bearer struct {
	header string
	secure bool
}

// GetRequestMetadata is the header.
func (b bearer) GetRequestMetadata(context.Context, ...string) (map[string]string, error) {
	return map[string]string{"authorization": b.header}, nil
}

// RequireTransportSecurity is true but towards this machine itself.
func (b bearer) RequireTransportSecurity() bool { return b.secure }
