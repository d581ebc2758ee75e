package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/json"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/coder/websocket"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"example.com/courtkin/proto"
	pb "example.com/courtkin/proto/courtkin/v1"
)

// keyFile makes an API key with the program itself and a file that knows it.
func keyFile(t *testing.T) (key, name string) {
	t.Helper()
	o := try(t, "", "key", "--tenant", "club")
	var line string
	for l := range strings.Lines(o.out) {
		if k, ok := strings.CutPrefix(l, "key   "); ok {
			key = strings.TrimSpace(k)
		}
		if k, ok := strings.CutPrefix(l, "line  "); ok {
			line = strings.TrimSpace(k)
		}
	}
	if o.status != 0 || key == "" || strings.Contains(line, key[15:]) {
		t.Fatalf("%+v", o)
	}
	return key, file(t, "keys.json", `{"keys":[`+line+`]}`)
}

// ask makes a request and returns its status and answer.
func ask(t *testing.T, client *http.Client, method, url, key, body string) (*http.Response, string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	r, err := http.NewRequestWithContext(ctx, method, url, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if key != "" {
		r.Header.Set("Authorization", "Bearer "+key)
	}
	r.Header.Set("Content-Type", "application/json")
	res, err := client.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res, string(raw)
}

// TestEveryRouteAsksForAKey tries every route of the OpenAPI document, and the
// two that stream, without a key, with a wrong one and with a right one.
func TestEveryRouteAsksForAKey(t *testing.T) {
	key, keys := keyFile(t)
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0", "--api-keys", keys)
	defer stop()
	var document struct {
		Paths map[string]map[string]json.RawMessage `json:"paths"`
	}
	if err := json.Unmarshal(proto.OpenAPI, &document); err != nil {
		t.Fatal(err)
	}
	routes := map[string]string{"/v1/practices:stream": http.MethodPost, "/v1/practices/live": http.MethodGet}
	for path, methods := range document.Paths {
		for m := range methods {
			routes[path] = strings.ToUpper(m)
		}
	}
	if len(routes) < 8 {
		t.Fatalf("only %d routes", len(routes))
	}
	client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	for path, method := range routes {
		for name, k := range map[string]string{"no key": "", "a wrong key": key[:len(key)-1] + "!"} {
			res, body := ask(t, client, method, at["HTTP"]+path, k, "{}")
			if res.StatusCode != http.StatusUnauthorized || res.Header.Get("WWW-Authenticate") == "" || !strings.Contains(body, `"code":16`) && !strings.Contains(body, `"code": 16`) {
				t.Errorf("%s %s with %s: %d %s", method, path, name, res.StatusCode, body)
			}
		}
		if res, body := ask(t, client, method, at["HTTP"]+path, key, "{}"); res.StatusCode == http.StatusUnauthorized || res.StatusCode == http.StatusForbidden {
			t.Errorf("%s %s with the key: %d %s", method, path, res.StatusCode, body)
		}
	}
	for _, path := range []string{"/healthz", "/readyz", "/metrics", "/openapi.json", "/"} {
		if res, body := ask(t, client, http.MethodGet, at["HTTP"]+path, "", ""); res.StatusCode != http.StatusOK {
			t.Errorf("%s: %d %.100s", path, res.StatusCode, body)
		}
	}
	socketWithKey(t, at["HTTP"], key)
	ctx := metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+key)
	if _, err := grpcClient(t, at["gRPC"]).GetCatalog(ctx, &pb.GetCatalogRequest{}); err != nil {
		t.Errorf("gRPC with the key: %v", err)
	}
	if _, err := grpcClient(t, at["gRPC"]).GetCatalog(t.Context(), &pb.GetCatalogRequest{}); status.Code(err) != codes.Unauthenticated {
		t.Errorf("gRPC without: %v", err)
	}
}

// socketWithKey opens a WebSocket as a browser must: the key as a subprotocol.
func socketWithKey(t *testing.T, address, key string) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	conn, _, err := websocket.Dial(ctx, "ws"+strings.TrimPrefix(address, "http")+"/v1/practices/live",
		&websocket.DialOptions{Subprotocols: []string{"courtkin.v1.json", "courtkin.v1.bearer." + key}})
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = conn.CloseNow() }()
	if conn.Subprotocol() != "courtkin.v1.json" {
		t.Errorf("subprotocol %q", conn.Subprotocol())
	}
	if err := conn.Write(ctx, websocket.MessageText, []byte(`{"open":{"setup":{"layout":"POINT_LAYOUT_COCO_17"}}}`)); err != nil {
		t.Fatal(err)
	}
	if _, raw, err := conn.Read(ctx); err != nil || !strings.Contains(string(raw), "opened") {
		t.Errorf("%s %v", raw, err)
	}
}

func TestStartSaysWhoMayCall(t *testing.T) {
	_, keys := keyFile(t)
	loop := &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 1}
	wide := &net.TCPAddr{IP: net.IPv4zero, Port: 1}
	for _, c := range []struct {
		gate gateFlags
		at   []net.Addr
		want string
	}{
		{gateFlags{}, []net.Addr{loop}, "open, to this machine alone"},
		{gateFlags{}, []net.Addr{loop, wide}, "OPEN TO THE NETWORK: whoever reaches 0.0.0.0:1 may call"},
		{gateFlags{APIKeys: keys}, []net.Addr{wide}, "asks for API keys"},
	} {
		if got := c.gate.said(tlsFlags{}, c.at...); !strings.HasPrefix(got, c.want) {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
	for _, args := range [][]string{
		{"--api-keys", "nowhere"}, {"--jwks", "nowhere"}, {"--jwt-issuer", "x"}, {"--tls-cert", "nowhere"}, {"--client-ca", "nowhere"},
	} {
		if o := try(t, "", append([]string{"service", "--grpc-addr", "127.0.0.1:0"}, args...)...); o.status != exitUsage {
			t.Errorf("%v: %+v", args, o)
		}
	}
}

// authority makes certificates for a test.
type authority struct {
	t    *testing.T
	cert *x509.Certificate
	key  *ecdsa.PrivateKey
	dir  string
}

func newAuthority(t *testing.T) *authority {
	a := &authority{t: t, dir: t.TempDir()}
	a.cert, a.key = a.issue("authority", nil, nil)
	return a
}

// issue makes name.pem and name.key in the authority's folder.
func (a *authority) issue(name string, parent *x509.Certificate, signer *ecdsa.PrivateKey) (*x509.Certificate, *ecdsa.PrivateKey) {
	a.t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		a.t.Fatal(err)
	}
	c := &x509.Certificate{
		SerialNumber: big.NewInt(time.Now().UnixNano()), Subject: pkix.Name{CommonName: name},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth, x509.ExtKeyUsageClientAuth}, KeyUsage: x509.KeyUsageDigitalSignature,
	}
	if parent == nil {
		parent, signer = c, key
		c.IsCA, c.BasicConstraintsValid, c.KeyUsage = true, true, x509.KeyUsageCertSign
	}
	raw, err := x509.CreateCertificate(rand.Reader, c, parent, &key.PublicKey, signer)
	if err != nil {
		a.t.Fatal(err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		a.t.Fatal(err)
	}
	for suffix, block := range map[string]*pem.Block{".pem": {Type: "CERTIFICATE", Bytes: raw}, ".key": {Type: "PRIVATE KEY", Bytes: secret}} {
		if err := os.WriteFile(a.file(name+suffix), pem.EncodeToMemory(block), 0o600); err != nil {
			a.t.Fatal(err)
		}
	}
	made, err := x509.ParseCertificate(raw)
	if err != nil {
		a.t.Fatal(err)
	}
	return made, key
}

func (a *authority) file(name string) string { return filepath.Join(a.dir, name) }

// TestMutualTLS calls both addresses with a certificate of the authority, of
// another one, and without.
func TestMutualTLS(t *testing.T) {
	a, other := newAuthority(t), newAuthority(t)
	a.issue("server", a.cert, a.key)
	a.issue("club", a.cert, a.key)
	other.issue("club", other.cert, other.key)
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0",
		"--tls-cert", a.file("server.pem"), "--tls-key", a.file("server.key"), "--client-ca", a.file("authority.pem"))
	defer stop()
	pool := x509.NewCertPool()
	pool.AddCert(a.cert)
	for name, c := range map[string]struct {
		from *authority
		in   bool
	}{"ours": {a, true}, "another's": {other, false}, "none": {nil, false}} {
		config := &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
		if c.from != nil {
			pair, err := tls.LoadX509KeyPair(c.from.file("club.pem"), c.from.file("club.key"))
			if err != nil {
				t.Fatal(err)
			}
			config.Certificates = []tls.Certificate{pair}
		}
		client := &http.Client{Transport: &http.Transport{TLSClientConfig: config, DisableKeepAlives: true}}
		res, err := client.Get(at["HTTP"] + "/v1/catalog")
		if err == nil {
			res.Body.Close()
		}
		if in := err == nil && res.StatusCode == http.StatusOK; in != c.in {
			t.Errorf("HTTP with %s certificate: %v %v", name, res, err)
		}
		conn, err := grpc.NewClient(at["gRPC"], grpc.WithTransportCredentials(credentials.NewTLS(config)))
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
		_, err = pb.NewSwingAnalysisServiceClient(conn).GetCatalog(ctx, &pb.GetCatalogRequest{})
		cancel()
		conn.Close()
		if in := err == nil; in != c.in {
			t.Errorf("gRPC with %s certificate: %v", name, err)
		}
	}
}

// TestCompressedBombIsRefused sends what is small on the wire and large in
// memory: gRPC measures after decompression, and HTTP bodies are not
// decompressed at all.
func TestCompressedBombIsRefused(t *testing.T) {
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0")
	defer stop()
	bomb := &pb.AnalyzeClipRequest{Setup: &pb.Setup{PointNames: []string{strings.Repeat(" ", 100<<20)}}}
	_, err := grpcClient(t, at["gRPC"]).AnalyzeClip(t.Context(), bomb, grpc.UseCompressor("gzip"))
	if code := status.Code(err); code != codes.ResourceExhausted && code != codes.Unimplemented {
		t.Errorf("gRPC: %v", err)
	}
	var small bytes.Buffer
	z := gzip.NewWriter(&small)
	_, _ = z.Write(bytes.Repeat([]byte("["), 50<<20))
	_ = z.Close()
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, at["HTTP"]+"/v1/clips:analyze", &small)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Encoding", "gzip")
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	res.Body.Close()
	if res.StatusCode < 400 || res.StatusCode > 499 {
		t.Errorf("HTTP: %d", res.StatusCode)
	}
}

// TestDeepNestingIsRefused: a body of brackets costs its own length and no stack.
func TestDeepNestingIsRefused(t *testing.T) {
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0")
	defer stop()
	for _, open := range []string{"[", `{"setup":`, `{"frames":[`, `{"x":[`} {
		if code, _ := post(t, at["HTTP"]+"/v1/clips:analyze", strings.Repeat(open, 2<<20/len(open))); code != http.StatusBadRequest {
			t.Errorf("%q: %d", open, code)
		}
	}
}

// TestHeadersAreBounded: one of 1 MB is refused.
func TestHeadersAreBounded(t *testing.T) {
	at, stop := started(t, "serve", "--http-addr", "127.0.0.1:0", "--grpc-addr", "127.0.0.1:0")
	defer stop()
	c, err := net.Dial("tcp", strings.TrimPrefix(at["HTTP"], "http://"))
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	go func() {
		_, _ = io.WriteString(c, "GET / HTTP/1.1\r\nHost: x\r\nX: "+strings.Repeat("a", 1<<20)+"\r\n\r\n")
	}()
	_ = c.SetReadDeadline(time.Now().Add(20 * time.Second))
	answer := make([]byte, 12)
	if _, err := io.ReadFull(c, answer); err != nil || string(answer) != "HTTP/1.1 431" {
		t.Errorf("%q %v", answer, err)
	}
}

// TestOldConnectionsMoveOn: connections that are retired again and again, with
// little grace, lose no swing.
func TestOldConnectionsMoveOn(t *testing.T) {
	faultTest(t)
	r := newReplica(t, nil, "--max-connection-age", "100ms", "--max-connection-age-grace", "50ms")
	slowly := func(i int) { // else the practice is over before a connection is old
		if i%2 == 0 {
			time.Sleep(2 * time.Millisecond)
		}
	}
	ids, recovered := streaming{targets: []string{r.grpc}, before: slowly}.play(t)
	held(t, ids)
	if len(recovered) == 0 {
		t.Error("no connection was retired")
	}
	t.Logf("retired %d times", len(recovered))
}
