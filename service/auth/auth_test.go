package auth

import (
	"context"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/big"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/golang-jwt/jwt/v5"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"
	"google.golang.org/protobuf/types/dynamicpb"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// taker answers every call of the contract: what is tested is who gets there.
type taker struct {
	pb.UnimplementedSwingAnalysisServiceServer
}

func (taker) AnalyzeClip(context.Context, *pb.AnalyzeClipRequest) (*pb.AnalyzeClipResponse, error) {
	return &pb.AnalyzeClipResponse{}, nil
}

func (taker) StreamPractice(s grpc.BidiStreamingServer[pb.StreamPracticeRequest, pb.StreamPracticeResponse]) error {
	for {
		if _, err := s.Recv(); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		if err := s.Send(&pb.StreamPracticeResponse{}); err != nil {
			return err
		}
	}
}

// serve puts a gate before everything that the program serves.
func serve(t *testing.T, c Config) (*grpc.ClientConn, *grpc.Server) {
	t.Helper()
	gate, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	listener := bufconn.Listen(1 << 16)
	server := grpc.NewServer(gate.Options()...)
	pb.RegisterSwingAnalysisServiceServer(server, taker{})
	healthpb.RegisterHealthServer(server, health.NewServer())
	reflection.Register(server)
	go func() { _ = server.Serve(listener) }()
	conn, err := grpc.NewClient("passthrough:///made",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return listener.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(); server.Stop() })
	return conn, server
}

func as(t *testing.T, authorization ...string) context.Context {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	t.Cleanup(cancel)
	for _, a := range authorization {
		ctx = metadata.AppendToOutgoingContext(ctx, "authorization", a)
	}
	return ctx
}

// call makes any RPC by its descriptor with one empty message.
func call(ctx context.Context, conn *grpc.ClientConn, method string, d protoreflect.MethodDescriptor) error {
	in, out := dynamicpb.NewMessage(d.Input()), dynamicpb.NewMessage(d.Output())
	if !d.IsStreamingClient() && !d.IsStreamingServer() {
		return conn.Invoke(ctx, method, in, out)
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stream, err := conn.NewStream(ctx, &grpc.StreamDesc{ClientStreams: true, ServerStreams: true}, method)
	if err != nil {
		return err
	}
	_ = stream.SendMsg(in)
	_ = stream.CloseSend()
	err = stream.RecvMsg(out)
	if errors.Is(err, io.EOF) {
		return nil
	}
	return err
}

// served lists every RPC of a server with its descriptor.
func served(t *testing.T, server *grpc.Server) map[string]protoreflect.MethodDescriptor {
	t.Helper()
	out := map[string]protoreflect.MethodDescriptor{}
	for service, info := range server.GetServiceInfo() {
		d, err := protoregistry.GlobalFiles.FindDescriptorByName(protoreflect.FullName(service))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range info.Methods {
			out["/"+service+"/"+m.Name] = d.(protoreflect.ServiceDescriptor).Methods().ByName(protoreflect.Name(m.Name))
		}
	}
	return out
}

// TestEveryRPCHasARule fails when an RPC is added to the contract, or a service
// to the server, without saying who may call it.
func TestEveryRPCHasARule(t *testing.T) {
	_, server := serve(t, Config{})
	all := served(t, server)
	services := pb.File_courtkin_v1_service_proto.Services()
	for i := range services.Len() {
		for k := range services.Get(i).Methods().Len() {
			m := services.Get(i).Methods().Get(k)
			all[fmt.Sprintf("/%s/%s", services.Get(i).FullName(), m.Name())] = m
		}
	}
	if len(all) < 11 {
		t.Fatalf("found only %d RPCs", len(all))
	}
	for method := range all {
		if _, ok := Rule(method); !ok {
			t.Errorf("%s has no rule", method)
		}
	}
	for method := range rules {
		if all[method] == nil {
			t.Errorf("%s has a rule and is served by nobody", method)
		}
	}
}

// TestNobodyPassesByAnyRPC tries every RPC that is served without credentials,
// with bad ones, and with a key of each wrong scope.
func TestNobodyPassesByAnyRPC(t *testing.T) {
	file := &File{}
	key := map[Scope]string{}
	for _, s := range []Scope{Analyse, Stream, Advise} {
		text, line, err := NewKey("club", []Scope{s}, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		key[s], file.Keys = text, append(file.Keys, line)
	}
	raw, _ := json.Marshal(file)
	conn, server := serve(t, Config{Keys: raw})
	for method, d := range served(t, server) {
		scope, _ := Rule(method)
		for name, headers := range map[string][]string{
			"none": nil, "empty": {""}, "no scheme": {key[Analyse]}, "other scheme": {"Basic " + key[Analyse]},
			"nobody's": {"Bearer ck_none_AAAA"}, "cut": {"Bearer " + key[Analyse][:20]}, "no token": {"Bearer "},
			"two": {"Bearer " + key[Analyse], "Bearer " + key[Stream]}, "a token": {"Bearer a.b.c"},
			"long": {"Bearer " + strings.Repeat("x", 9000)},
		} {
			want := codes.Unauthenticated
			if scope == anyone {
				continue
			}
			if got := status.Code(call(as(t, headers...), conn, method, d)); got != want {
				t.Errorf("%s with %s: %v", method, name, got)
			}
		}
		for s, k := range key {
			got := status.Code(call(as(t, "bearer "+k), conn, method, d))
			refused := got == codes.PermissionDenied || got == codes.Unauthenticated
			if may := scope == s || scope == known || scope == anyone; refused == may {
				t.Errorf("%s with scope %s: %v", method, s, got)
			}
		}
	}
}

func TestUnknownMethodsAreRefused(t *testing.T) {
	for name, c := range map[string]Config{"open": {}, "keys": {Keys: []byte(`{"keys":[]}`)}} {
		conn, _ := serve(t, c)
		err := conn.Invoke(as(t), "/courtkin.v1.SwingAnalysisService/DropEverything", &pb.GetCatalogRequest{}, &pb.GetCatalogResponse{})
		if status.Code(err) != codes.PermissionDenied {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestUnauthenticatedBodiesAreNotRead: the refusal comes while the body is
// still being sent.
func TestUnauthenticatedBodiesAreNotRead(t *testing.T) {
	conn, _ := serve(t, Config{Keys: []byte(`{"keys":[]}`)})
	stream, err := conn.NewStream(as(t), &grpc.StreamDesc{ClientStreams: true, ServerStreams: true}, pb.SwingAnalysisService_AnalyzeClip_FullMethodName)
	if err != nil {
		t.Fatal(err)
	}
	if err := stream.RecvMsg(&pb.AnalyzeClipResponse{}); status.Code(err) != codes.Unauthenticated {
		t.Errorf("before anything was sent: %v", err)
	}
}

func TestExpiredKey(t *testing.T) {
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	text, line, err := NewKey("club", []Scope{Analyse}, now)
	if err != nil {
		t.Fatal(err)
	}
	k := newKeys([]Key{line})
	token := strings.TrimPrefix(text, "Bearer ")
	if _, ok := k.find(token, now.Add(-time.Second)); !ok {
		t.Error("refused a second before its end")
	}
	if _, ok := k.find(token, now); ok {
		t.Error("let in at its end")
	}
}

func TestUnfitFiles(t *testing.T) {
	good := Key{ID: "a", Tenant: "t", Hash: strings.Repeat("0", 64), Scopes: []Scope{Analyse}}
	for name, spoil := range map[string]func(*Key){
		"no id": func(k *Key) { k.ID = "" }, "odd id": func(k *Key) { k.ID = "a_b" }, "no tenant": func(k *Key) { k.Tenant = "" },
		"short hash": func(k *Key) { k.Hash = "00" }, "no hex": func(k *Key) { k.Hash = strings.Repeat("x", 64) },
		"no scope": func(k *Key) { k.Scopes = nil }, "odd scope": func(k *Key) { k.Scopes = []Scope{"admin"} },
	} {
		k := good
		spoil(&k)
		raw, _ := json.Marshal(File{Keys: []Key{k}})
		if _, err := ParseFile(raw); err == nil {
			t.Errorf("%s: read", name)
		}
	}
	for _, text := range []string{``, `[]`, `{"keys":[],"more":1}`, `{"keys":[]}{}`, `{"tenants":{"t":{"streams":-1}}}`} {
		if _, err := ParseFile([]byte(text)); err == nil {
			t.Errorf("%s: read", text)
		}
	}
	twice, _ := json.Marshal(File{Keys: []Key{good, good}})
	if _, err := ParseFile(twice); err == nil {
		t.Error("an id twice: read")
	}
}

// issuer signs tokens with a key of each kind.
type issuer struct {
	rsa  *rsa.PrivateKey
	ec   *ecdsa.PrivateKey
	ed   ed25519.PrivateKey
	jwks []byte
}

func newIssuer(t *testing.T) issuer {
	t.Helper()
	r, err := rsa.GenerateKey(rand.Reader, 2048)
	if err != nil {
		t.Fatal(err)
	}
	e, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	public, private, err := ed25519.GenerateKey(rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	text := base64.RawURLEncoding.EncodeToString
	point, err := e.PublicKey.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	set, _ := json.Marshal(map[string]any{"keys": []map[string]string{
		{"kty": "RSA", "kid": "r", "n": text(r.N.Bytes()), "e": text(big.NewInt(int64(r.E)).Bytes())},
		{"kty": "EC", "kid": "e", "crv": "P-256", "x": text(point[1:33]), "y": text(point[33:])},
		{"kty": "OKP", "kid": "d", "crv": "Ed25519", "x": text(public)},
	}})
	return issuer{r, e, private, set}
}

// TestTokens tries what a stranger may do to a token.
func TestTokens(t *testing.T) {
	is, stranger := newIssuer(t), newIssuer(t)
	now := time.Now()
	good := jwt.MapClaims{"iss": "https://id.example", "aud": "courtkin", "sub": "u", "tenant": "club", "scope": "stream analyse", "exp": now.Add(time.Hour).Unix()}
	with := func(changes map[string]any) jwt.MapClaims {
		c := jwt.MapClaims{}
		for k, v := range good {
			c[k] = v
		}
		for k, v := range changes {
			if v == nil {
				delete(c, k)
				continue
			}
			c[k] = v
		}
		return c
	}
	sign := func(m jwt.SigningMethod, kid string, key any, c jwt.MapClaims) string {
		token := jwt.NewWithClaims(m, c)
		token.Header["kid"] = kid
		text, err := token.SignedString(key)
		if err != nil {
			t.Fatal(err)
		}
		return text
	}
	conn, _ := serve(t, Config{JWKS: is.jwks, Issuer: "https://id.example", Audience: "courtkin"})
	for name, c := range map[string]struct {
		token string
		want  codes.Code
	}{
		"RSA":                      {sign(jwt.SigningMethodRS256, "r", is.rsa, good), codes.OK},
		"EC":                       {sign(jwt.SigningMethodES256, "e", is.ec, good), codes.OK},
		"Ed25519":                  {sign(jwt.SigningMethodEdDSA, "d", is.ed, good), codes.OK},
		"no tenant, a subject":     {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"tenant": nil})), codes.OK},
		"neither":                  {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"tenant": nil, "sub": nil})), codes.Unauthenticated},
		"another scope":            {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"scope": "advise"})), codes.PermissionDenied},
		"no scope":                 {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"scope": nil})), codes.PermissionDenied},
		"expired":                  {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"exp": now.Add(-time.Minute).Unix()})), codes.Unauthenticated},
		"no end":                   {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"exp": nil})), codes.Unauthenticated},
		"not yet":                  {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"nbf": now.Add(time.Hour).Unix()})), codes.Unauthenticated},
		"another issuer":           {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"iss": "https://x.example"})), codes.Unauthenticated},
		"another audience":         {sign(jwt.SigningMethodES256, "e", is.ec, with(map[string]any{"aud": "x"})), codes.Unauthenticated},
		"a stranger's key":         {sign(jwt.SigningMethodES256, "e", stranger.ec, good), codes.Unauthenticated},
		"an unknown kid":           {sign(jwt.SigningMethodES256, "x", is.ec, good), codes.Unauthenticated},
		"another key's kid":        {sign(jwt.SigningMethodES256, "r", is.ec, good), codes.Unauthenticated},
		"unsigned":                 {sign(jwt.SigningMethodNone, "e", jwt.UnsafeAllowNoneSignatureType, good), codes.Unauthenticated},
		"public key as the secret": {sign(jwt.SigningMethodHS256, "r", is.rsa.N.Bytes(), good), codes.Unauthenticated},
	} {
		_, err := pb.NewSwingAnalysisServiceClient(conn).AnalyzeClip(as(t, "Bearer "+c.token), &pb.AnalyzeClipRequest{})
		if status.Code(err) != c.want {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
}

func TestUnfitJWKS(t *testing.T) {
	for _, text := range []string{
		``, `{}`, `{"keys":[{"kty":"oct","kid":"x","k":"AAAA"}]}`, `{"keys":[{"kty":"RSA","n":"AQAB","e":"AQAB"}]}`,
		`{"keys":[{"kty":"EC","crv":"P-256","x":"AA","y":"AA"}]}`, `{"keys":[{"kty":"OKP","crv":"Ed25519","x":"AA"}]}`,
		`{"keys":[{"kty":"EC","crv":"P-256","x":"` + strings.Repeat("A", 43) + `","y":"` + strings.Repeat("A", 43) + `"}]}`,
	} {
		if _, err := New(Config{JWKS: []byte(text)}); err == nil {
			t.Errorf("%s: read", text)
		}
	}
}

// limitOf returns the limit that an error names.
func limitOf(err error) string {
	s := status.Convert(err)
	if _, after, ok := strings.Cut(s.Message(), "limit "); ok && s.Code() == codes.ResourceExhausted {
		name, _, _ := strings.Cut(after, ":")
		return name
	}
	return s.Code().String()
}

func withQuota(t *testing.T, q Quota) (pb.SwingAnalysisServiceClient, context.Context) {
	t.Helper()
	text, line, err := NewKey("club", []Scope{Analyse, Stream}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	raw, _ := json.Marshal(File{Keys: []Key{line}, Tenants: map[string]Quota{"*": q}})
	conn, _ := serve(t, Config{Keys: raw})
	return pb.NewSwingAnalysisServiceClient(conn), as(t, "Bearer "+text)
}

func TestQuotas(t *testing.T) {
	t.Run("calls", func(t *testing.T) {
		client, ctx := withQuota(t, Quota{CallsPerSecond: 0.001})
		for i, want := range []string{"OK", "rate"} {
			if _, err := client.AnalyzeClip(ctx, &pb.AnalyzeClipRequest{}); limitOf(err) != want {
				t.Errorf("call %d: %v", i, err)
			}
		}
	})
	t.Run("frames a day", func(t *testing.T) {
		client, ctx := withQuota(t, Quota{FramesPerDay: 3})
		two := &pb.AnalyzeClipRequest{Frames: []*pb.Frame{{}, {}}}
		for i, want := range []string{"OK", "quota"} {
			if _, err := client.AnalyzeClip(ctx, two); limitOf(err) != want {
				t.Errorf("call %d: %v", i, err)
			}
		}
	})
	t.Run("streams", func(t *testing.T) {
		client, ctx := withQuota(t, Quota{Streams: 1})
		first, err := client.StreamPractice(ctx)
		if err != nil {
			t.Fatal(err)
		}
		_ = first.Send(&pb.StreamPracticeRequest{})
		if _, err := first.Recv(); err != nil {
			t.Fatal(err)
		}
		second, err := client.StreamPractice(ctx)
		if err == nil {
			_, err = second.Recv()
		}
		if limitOf(err) != "tenant_streams" {
			t.Errorf("%v", err)
		}
		_ = first.CloseSend()
		if _, err := first.Recv(); !errors.Is(err, io.EOF) {
			t.Fatal(err)
		}
		third, err := client.StreamPractice(ctx)
		if err != nil {
			t.Fatal(err)
		}
		_ = third.Send(&pb.StreamPracticeRequest{})
		if _, err := third.Recv(); err != nil {
			t.Errorf("after the first was closed: %v", err)
		}
	})
	t.Run("too many frames a second are held", func(t *testing.T) {
		client, ctx := withQuota(t, Quota{FramesPerSecond: 100})
		stream, err := client.StreamPractice(ctx)
		if err != nil {
			t.Fatal(err)
		}
		batch := &pb.StreamPracticeRequest{Message: &pb.StreamPracticeRequest_Frames{
			Frames: &pb.StreamPracticeRequest_FrameBatch{Frames: make([]*pb.Frame, 60)}}}
		for i := range batch.GetFrames().GetFrames() {
			batch.GetFrames().Frames[i] = &pb.Frame{}
		}
		begin := time.Now()
		for range 5 { // 300 frames; 200 may come at once
			_ = stream.Send(batch)
			if _, err := stream.Recv(); err != nil {
				t.Fatal(err)
			}
		}
		if took := time.Since(begin); took < 900*time.Millisecond {
			t.Errorf("300 frames in %v", took)
		}
	})
}

// TestGuessing: an address that guesses is refused unread, others are not.
func TestGuessing(t *testing.T) {
	text, line, err := NewKey("club", []Scope{Analyse}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	raw, _ := json.Marshal(File{Keys: []Key{line}})
	gate, err := New(Config{Keys: raw})
	if err != nil {
		t.Fatal(err)
	}
	held := false
	for i := range 1000 {
		if limitOf(gate.Check(fmt.Sprintf("Bearer ck_%s_%d", line.ID, i), "192.0.2.7:1234")) == "wrong_keys" {
			held = true
			break
		}
	}
	if !held {
		t.Error("a thousand guesses were answered")
	}
	if err := gate.Check("Bearer "+text, "192.0.2.8:1"); err != nil {
		t.Errorf("another address: %v", err)
	}
}

func TestCertificateNameIsTakenFromOurOwnGatewayAlone(t *testing.T) {
	conn, _ := serve(t, Config{Certificates: true}) // over bufconn: the gateway's way
	client := pb.NewSwingAnalysisServiceClient(conn)
	if _, err := client.AnalyzeClip(metadata.AppendToOutgoingContext(as(t), certificateKey, "club"), &pb.AnalyzeClipRequest{}); err != nil {
		t.Errorf("from the gateway: %v", err)
	}
	if _, err := client.AnalyzeClip(as(t), &pb.AnalyzeClipRequest{}); status.Code(err) != codes.Unauthenticated {
		t.Errorf("without a name: %v", err)
	}
	gate, err := New(Config{Certificates: true})
	if err != nil {
		t.Fatal(err)
	}
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer(gate.Options()...)
	pb.RegisterSwingAnalysisServiceServer(server, taker{})
	go func() { _ = server.Serve(listener) }()
	defer server.Stop()
	outside, err := grpc.NewClient(listener.Addr().String(), grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer outside.Close()
	ctx := metadata.AppendToOutgoingContext(as(t), certificateKey, "club")
	if _, err := pb.NewSwingAnalysisServiceClient(outside).AnalyzeClip(ctx, &pb.AnalyzeClipRequest{}); status.Code(err) != codes.Unauthenticated {
		t.Errorf("from outside: %v", err)
	}
}
