package auth

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/tap"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Config says who may call. Without any of it the gate is open.
type Config struct {
	Keys         []byte       // content of the keys' file; nil: none
	JWKS         []byte       // content of a JWKS file; nil: no tokens
	Issuer       string       // demanded of tokens, when given
	Audience     string       // the same
	OIDC         string       // an OpenID issuer's address: its keys are asked for there
	Client       *http.Client // asks for them; nil: a plain one
	Certificates bool         // client certificates are verified by TLS: their name is a caller
	Now          func() time.Time
}

// Caller is who calls.
type Caller struct {
	Tenant string
	Scopes []Scope
}

// may reports whether the caller has a scope.
func (c *Caller) may(s Scope) bool { return s == known || s == anyone || slices.Contains(c.Scopes, s) }

// Gate lets calls in or refuses them.
type Gate struct {
	keys         keys
	tokens       *tokens
	issuer       *discovery
	certificates bool
	open         bool
	tenants      *tenants
	guesses      guesses
	now          func() time.Time
}

// New reads the files' contents.
func New(c Config) (*Gate, error) {
	g := &Gate{certificates: c.Certificates, now: c.Now, tenants: newTenants(nil)}
	if g.now == nil {
		g.now = time.Now
	}
	if c.Keys != nil {
		f, err := ParseFile(c.Keys)
		if err != nil {
			return nil, fmt.Errorf("keys: %w", err)
		}
		g.keys, g.tenants = newKeys(f.Keys), newTenants(f.Tenants)
	}
	if c.JWKS != nil {
		t, err := newTokens(c.JWKS, c.Issuer, c.Audience, g.now)
		if err != nil {
			return nil, fmt.Errorf("jwks: %w", err)
		}
		g.tokens = t
	}
	if c.OIDC != "" {
		d, err := newDiscovery(c.OIDC, c.Audience, c.Client, g.now)
		if err != nil {
			return nil, fmt.Errorf("oidc: %w", err)
		}
		g.issuer = d
	}
	g.open = c.Keys == nil && c.JWKS == nil && c.OIDC == "" && !c.Certificates
	return g, nil
}

// Open reports whether everyone may call.
func (g *Gate) Open() bool { return g.open }

// Options put the gate before a gRPC server's handlers. They belong before the
// service's own.
func (g *Gate) Options() []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.InTapHandle(g.tap), grpc.ChainUnaryInterceptor(g.unary), grpc.ChainStreamInterceptor(g.stream),
	}
}

type callerKey struct{}

// tap refuses a call before its body is read.
func (g *Gate) tap(ctx context.Context, info *tap.Info) (context.Context, error) {
	caller, err := g.admit(ctx, info.FullMethodName, info.Header)
	if err != nil {
		return nil, err
	}
	return context.WithValue(ctx, callerKey{}, caller), nil
}

// admit decides on a call by its method and metadata.
func (g *Gate) admit(ctx context.Context, method string, header metadata.MD) (*Caller, error) {
	scope, ok := Rule(method)
	switch {
	case !ok:
		return nil, status.Error(codes.PermissionDenied, "nobody may call this")
	case g.open, scope == anyone:
		return &Caller{}, nil
	}
	caller, err := g.caller(ctx, header)
	if err != nil {
		return nil, err
	}
	if !caller.may(scope) {
		return nil, status.Errorf(codes.PermissionDenied, "this needs the scope %s", scope)
	}
	return caller, nil
}

// Check refuses a token that no caller has, for a gateway that would else read
// a body in vain. header is that of Authorization, from the client's address.
func (g *Gate) Check(header, from string) error {
	if g.open {
		return nil
	}
	var list []string
	if header != "" {
		list = []string{header}
	}
	_, err := g.known(list, from)
	return err
}

// maxToken bounds what is read of a token; a JWT of three scopes has about 700 bytes.
const maxToken = 8 << 10

// caller returns who calls. What is wrong with credentials is not told.
func (g *Gate) caller(ctx context.Context, header metadata.MD) (*Caller, error) {
	headers := header.Get("authorization")
	if len(headers) == 0 {
		if c := g.certified(ctx, header); c != nil {
			return c, nil
		}
		return nil, errNoToken
	}
	from := ""
	if p, ok := peer.FromContext(ctx); ok && p.Addr.Network() != inProcess {
		from = p.Addr.String()
	}
	return g.known(headers, from)
}

// inProcess is the network of a gateway in this process, which has checked
// already where a client's guesses come from.
const inProcess = "bufconn"

// known returns the caller of the one header; from is where it came from, ""
// when that is not to be counted.
func (g *Gate) known(headers []string, from string) (*Caller, error) {
	if len(headers) == 0 {
		return nil, errNoToken
	}
	if from != "" && g.guesses.spent(from) {
		return nil, exhausted("wrong_keys", wrongPerSecond, "wrong keys or tokens a second from one address")
	}
	if len(headers) == 1 {
		if c := g.bearer(headers[0]); c != nil {
			return c, nil
		}
	}
	if from != "" {
		g.guesses.wrong(from)
	}
	return nil, status.Error(codes.Unauthenticated, "the key or token is not valid")
}

var errNoToken = status.Error(codes.Unauthenticated, "a key or token is asked for: Authorization: Bearer …")

// bearer returns the caller of one header, nil when it is not valid.
func (g *Gate) bearer(header string) *Caller {
	scheme, token, ok := strings.Cut(header, " ")
	token = strings.TrimSpace(token)
	if !ok || !strings.EqualFold(scheme, "bearer") || token == "" || len(token) > maxToken {
		return nil
	}
	var c *Caller
	switch {
	case strings.HasPrefix(token, keyPrefix):
		c, ok = g.keys.find(token, g.now())
	default:
		ok = false
		if g.tokens != nil {
			c, ok = g.tokens.find(token)
		}
		if !ok && g.issuer != nil {
			c, ok = g.issuer.find(token)
		}
	}
	if !ok {
		return nil
	}
	return c
}

// certificateKey is the metadata by which the gateway of this very process, and
// no other, tells the name of a client's verified certificate.
const certificateKey = "courtkin-certificate"

// certified returns the caller that a verified client certificate names.
func (g *Gate) certified(ctx context.Context, header metadata.MD) *Caller {
	p, ok := peer.FromContext(ctx)
	if !g.certificates || !ok {
		return nil
	}
	name := ""
	if info, ok := p.AuthInfo.(credentials.TLSInfo); ok && len(info.State.VerifiedChains) > 0 {
		name = info.State.VerifiedChains[0][0].Subject.CommonName
	} else if told := header.Get(certificateKey); p.Addr.Network() == inProcess && len(told) == 1 {
		name = told[0]
	}
	if name == "" {
		return nil
	}
	return &Caller{Tenant: name, Scopes: []Scope{Analyse, Stream, Advise}}
}

// callerOf returns the caller that tap found; a call that did not pass it is refused.
func callerOf(ctx context.Context) (*Caller, error) {
	if c, ok := ctx.Value(callerKey{}).(*Caller); ok {
		return c, nil
	}
	return nil, status.Error(codes.Unauthenticated, "the call did not pass the gate")
}

// unary counts a single call against its tenant's quota.
func (g *Gate) unary(ctx context.Context, req any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	c, err := callerOf(ctx)
	if err != nil {
		return nil, err
	}
	if c.Tenant == "" {
		return next(ctx, req)
	}
	t := g.tenants.of(c.Tenant)
	if err := t.call(); err != nil {
		return nil, err
	}
	if n := framesOf(req); n > 0 {
		if err := t.count(int64(n), g.now()); err != nil {
			return nil, err
		}
	}
	return next(ctx, req)
}

// stream counts a live practice and its frames.
func (g *Gate) stream(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	c, err := callerOf(stream.Context())
	if err != nil {
		return err
	}
	if c.Tenant == "" {
		return next(srv, stream)
	}
	t := g.tenants.of(c.Tenant)
	if err := t.call(); err != nil {
		return err
	}
	if err := t.open(); err != nil {
		return err
	}
	defer t.close()
	return next(srv, &metered{stream, t, g.now})
}

// metered counts a stream's frames.
type metered struct {
	grpc.ServerStream
	tenant *tenant
	now    func() time.Time
}

// RecvMsg receives, and waits while the tenant sends too fast.
func (m *metered) RecvMsg(v any) error {
	if err := m.ServerStream.RecvMsg(v); err != nil {
		return err
	}
	if n := framesOf(v); n > 0 {
		return m.tenant.take(m.Context(), n, m.now())
	}
	return nil
}

// framesOf counts the frames of a request.
func framesOf(v any) int {
	switch r := v.(type) {
	case *pb.StreamPracticeRequest:
		return counted(r.GetFrames().GetFrames(), r.GetFrames().GetBlocks())
	case *pb.AnalyzeClipRequest:
		return counted(r.GetFrames(), r.GetBlocks())
	}
	return 0
}

func counted(frames []*pb.Frame, blocks []*pb.FrameBlock) int {
	n := len(frames)
	for _, b := range blocks {
		n += len(b.GetTimeStepsUs()) + 1
	}
	return n
}
