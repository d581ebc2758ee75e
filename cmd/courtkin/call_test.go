package main

import (
	"context"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// TestCallsShowKeysAndCheckCertificates streams and loads over TLS to a server
// that asks for a key.
func TestCallsShowKeysAndCheckCertificates(t *testing.T) {
	a := newAuthority(t)
	a.issue("server", a.cert, a.key)
	key, keys := keyFile(t)
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0",
		"--tls-cert", a.file("server.pem"), "--tls-key", a.file("server.key"), "--api-keys", keys)
	defer stop()
	to := at["gRPC"]
	clip := file(t, "s.ndjson", recorded(t, forehand(t)))
	if o := try(t, "", "stream", "--speed=0", "--to", to, "--ca", a.file("authority.pem"), "--api-key", key, clip); o.status != 0 || !strings.Contains(o.out, "contact") {
		t.Errorf("stream: %+v", o)
	}
	o := try(t, "", "stream", "--speed=0", "--to", to, "--ca", a.file("authority.pem"), clip)
	if o.status != exitFailure || !strings.Contains(o.err, "Unauthenticated") {
		t.Errorf("stream without a key: %+v", o)
	}
	load := func(args ...string) output {
		return try(t, "", append([]string{"load", "--players=1", "--scripts=1", "--minutes=0.1", "--no-echo",
			"--ca", a.file("authority.pem"), "--api-key", key}, args...)...)
	}
	if o := load("--to", to); o.status != 0 || !strings.Contains(o.out, "0 lost") {
		t.Errorf("load: %+v", o)
	}
	if o := load("--to", strings.TrimPrefix(at["HTTP"], "https://"), "--transport=websocket"); o.status != 0 || !strings.Contains(o.out, "0 lost") {
		t.Errorf("load over WebSocket: %+v", o)
	}
}

// TestServersThatCannotBeVerifiedAreRefused dials with each kind of flags.
func TestServersThatCannotBeVerifiedAreRefused(t *testing.T) {
	a, other := newAuthority(t), newAuthority(t)
	a.issue("server", a.cert, a.key)
	a.issue("club", a.cert, a.key)
	other.issue("club", other.cert, other.key)
	at, stop := started(t, "service", "--grpc-addr", "127.0.0.1:0",
		"--tls-cert", a.file("server.pem"), "--tls-key", a.file("server.key"), "--client-ca", a.file("authority.pem"))
	defer stop()
	ours := callFlags{CA: a.file("authority.pem"), Cert: a.file("club.pem"), CertKey: a.file("club.key")}
	for name, c := range map[string]struct {
		change func(*callFlags)
		in     bool
	}{
		"ours":                  {func(*callFlags) {}, true},
		"its own name":          {func(f *callFlags) { f.ServerName = "127.0.0.1" }, true},
		"another name":          {func(f *callFlags) { f.ServerName = "club.example" }, false},
		"another authority":     {func(f *callFlags) { f.CA = other.file("authority.pem") }, false},
		"the system's":          {func(f *callFlags) { f.CA, f.TLS = "", true }, false},
		"no certificate":        {func(f *callFlags) { f.Cert, f.CertKey = "", "" }, false},
		"another's certificate": {func(f *callFlags) { f.Cert, f.CertKey = other.file("club.pem"), other.file("club.key") }, false},
		"plain":                 {func(f *callFlags) { *f = callFlags{} }, false},
	} {
		f := ours
		c.change(&f)
		options, err := f.options(at["gRPC"])
		if err != nil {
			t.Fatal(err)
		}
		conn, err := grpc.NewClient(at["gRPC"], options...)
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		_, err = pb.NewSwingAnalysisServiceClient(conn).GetCatalog(ctx, &pb.GetCatalogRequest{})
		cancel()
		conn.Close()
		if in := err == nil; in != c.in || !in && status.Code(err) != codes.Unavailable {
			t.Errorf("%s: %v", name, err)
		}
	}
	empty := file(t, "c.json", `{}`)
	for _, args := range [][]string{
		{"--ca", "nowhere"}, {"--ca", empty}, {"--cert", "nowhere"}, {"--api-key", "k", "--to", "192.0.2.1:9090"},
	} {
		for _, command := range [][]string{{"stream", empty}, {"load", "--remote", "--to", "192.0.2.1:9090", "--scripts=1", "--minutes=0.1"}} {
			if o := try(t, "", append(command, args...)...); o.status != exitUsage || !strings.Contains(o.err, args[0]) {
				t.Errorf("%v %v: %+v", command, args, o)
			}
		}
	}
}
