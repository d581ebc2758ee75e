package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"slices"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/test/bufconn"

	pb "example.com/courtkin/proto/courtkin/v1"

	"example.com/courtkin/gateway"
	"example.com/courtkin/service"
	"example.com/courtkin/service/auth"
	"example.com/courtkin/service/telemetry"
)

// serviceFlags are the flags of whatever serves gRPC.
type serviceFlags struct {
	GRPCAddr   string `name:"grpc-addr" default:"127.0.0.1:9090" env:"COURTKIN_GRPC_ADDR" help:"Address for gRPC; port 0 picks one."`
	Reflection bool   `env:"COURTKIN_REFLECTION" help:"Answer gRPC reflection."`
	Settlers   int    `default:"0" env:"COURTKIN_SETTLERS" help:"Swings settled at once, aside from live frames; 0: one for each core but one."`

	MaxConnectionAge      time.Duration `name:"max-connection-age" default:"30m" env:"COURTKIN_MAX_CONNECTION_AGE" help:"After this a connection is asked to move on, so that new replicas get their share; 0: never."`
	MaxConnectionAgeGrace time.Duration `name:"max-connection-age-grace" default:"30s" env:"COURTKIN_MAX_CONNECTION_AGE_GRACE" help:"How long its open streams may go on after that."`
}

// gatewayFlags are the flags of whatever serves HTTP.
type gatewayFlags struct {
	HTTPAddr    string   `name:"http-addr" default:"127.0.0.1:8080" env:"COURTKIN_HTTP_ADDR" help:"Address for HTTP; port 0 picks one."`
	AllowOrigin []string `env:"COURTKIN_ALLOW_ORIGIN" help:"Other origins that browsers may call from, such as https://club.example; * is any."`
	pageFlags
}

// stopFlags say how to stop.
type stopFlags struct {
	Grace time.Duration `default:"10s" env:"COURTKIN_GRACE" help:"How long calls may finish when stopping."`
}

// accessFlags say who may call, and how.
type accessFlags struct {
	gateFlags
	tlsFlags
}

type serveCmd struct {
	serviceFlags
	gatewayFlags
	accessFlags
	stopFlags
}

type serviceCmd struct {
	serviceFlags
	accessFlags
	stopFlags
}

type gatewayCmd struct {
	gatewayFlags
	accessFlags
	stopFlags
	Service string `default:"127.0.0.1:9090" env:"COURTKIN_SERVICE" help:"Address of the service (a gRPC target)."`
}

// Run serves both in one process, joined in memory.
func (cmd *serveCmd) Run(ctx context.Context, c *console) error {
	p, err := newProcess(ctx, c, cmd.Grace, cmd.accessFlags)
	if err != nil {
		return err
	}
	defer p.stop()
	if err := p.service(cmd.serviceFlags); err != nil {
		return err
	}
	inside := bufconn.Listen(1 << 20)
	p.start(func() error { return p.inside.Serve(inside) })
	conn, err := grpc.NewClient("passthrough:///inside",
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return inside.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		return err
	}
	if err := p.gateway(conn, cmd.gatewayFlags); err != nil {
		return err
	}
	return p.wait(ctx)
}

// Run serves gRPC.
func (cmd *serviceCmd) Run(ctx context.Context, c *console) error {
	p, err := newProcess(ctx, c, cmd.Grace, cmd.accessFlags)
	if err != nil {
		return err
	}
	defer p.stop()
	if err := p.service(cmd.serviceFlags); err != nil {
		return err
	}
	return p.wait(ctx)
}

// Run serves HTTP for a service elsewhere.
func (cmd *gatewayCmd) Run(ctx context.Context, c *console) error {
	p, err := newProcess(ctx, c, cmd.Grace, cmd.accessFlags)
	if err != nil {
		return err
	}
	defer p.stop()
	conn, err := grpc.NewClient(cmd.Service, grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithKeepaliveParams(keepalive.ClientParameters{Time: time.Minute, Timeout: 10 * time.Second}))
	if err != nil {
		return usage("--service %s: %w", cmd.Service, err)
	}
	if err := p.gateway(conn, cmd.gatewayFlags); err != nil {
		return err
	}
	return p.wait(ctx)
}

// process is what runs until it is told to stop.
type process struct {
	console *console
	watch   *telemetry.Telemetry
	log     *slog.Logger
	gate    *auth.Gate
	access  accessFlags
	tls     *tls.Config // nil: plain
	grace   time.Duration
	grpc    *grpc.Server
	inside  *grpc.Server // the same service for a gateway in this process; nil: none
	health  *health.Server
	http    *http.Server
	conn    *grpc.ClientConn // the gateway's, to the service
	listens []net.Addr
	failed  chan error
}

func newProcess(ctx context.Context, c *console, grace time.Duration, access accessFlags) (*process, error) {
	collectSeldom()
	secure, err := access.config()
	if err != nil {
		return nil, err
	}
	gate, err := access.gate(access.ClientCA != "")
	if err != nil {
		return nil, err
	}
	watch, err := telemetry.Start(ctx, telemetry.Environment(), programVersion(), c.err)
	if err != nil {
		return nil, usage("%w", err)
	}
	return &process{
		console: c, watch: watch, log: watch.Log(), gate: gate, access: access, tls: secure, grace: grace, failed: make(chan error, 4),
	}, nil
}

// collectAt is the garbage collector's GOGC where nobody sets it: the heap grows to three
// times what is live before it is collected. Solves leave 3 MB a swing behind, and what
// is live, windows and streams, is small beside the processor time that this saves
// (a tenth, at 100 players). GOMEMLIMIT bounds it.
const collectAt = 200

func collectSeldom() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(collectAt)
	}
}

// start runs serve until it ends; its error ends the process.
func (p *process) start(serve func() error) {
	go func() {
		if err := serve(); err != nil && !errors.Is(err, http.ErrServerClosed) && !errors.Is(err, grpc.ErrServerStopped) {
			p.failed <- err
		}
	}()
}

// service listens for gRPC and says where.
func (p *process) service(f serviceFlags) error {
	if f.Settlers < 0 || f.Settlers > 1024 {
		return usage("--settlers must be 0 to 1024")
	}
	srv, err := service.New(service.Config{Version: programVersion(), Log: p.log, Took: p.watch.Took(), Settlers: f.Settlers})
	if err != nil {
		return err
	}
	if err := p.watch.Saturation(srv.Saturation); err != nil {
		return err
	}
	listener, err := net.Listen("tcp", f.GRPCAddr)
	if err != nil {
		return fmt.Errorf("--grpc-addr %s: %w", f.GRPCAddr, err)
	}
	p.health = health.NewServer()
	p.health.SetServingStatus(pb.SwingAnalysisService_ServiceDesc.ServiceName, healthpb.HealthCheckResponse_SERVING)
	p.inside = p.server(srv, f.Reflection)
	outside := f.keepalive()
	if p.tls != nil {
		outside = append(outside, grpc.Creds(credentials.NewTLS(p.tls)))
	}
	p.grpc = p.server(srv, f.Reflection, outside...)
	p.start(func() error { return p.grpc.Serve(listener) })
	p.listens = append(p.listens, listener.Addr())
	fmt.Fprintf(p.console.out, "gRPC  %s\n", listener.Addr())
	return nil
}

// server makes a gRPC server of the service: watched, gated, with health and,
// if asked for, reflection.
func (p *process) server(srv *service.Server, reflect bool, options ...grpc.ServerOption) *grpc.Server {
	options = slices.Concat(options, p.watch.Options(), p.gate.Options(), srv.Options())
	server := grpc.NewServer(options...)
	srv.Register(server)
	healthpb.RegisterHealthServer(server, p.health)
	if reflect {
		reflection.Register(server)
	}
	return server
}

// keepalive finds dead clients and retires old connections. gRPC spreads the age
// by a tenth either way.
func (f *serviceFlags) keepalive() []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.KeepaliveParams(keepalive.ServerParameters{
			Time: time.Minute, Timeout: 20 * time.Second,
			MaxConnectionAge: f.MaxConnectionAge, MaxConnectionAgeGrace: f.MaxConnectionAgeGrace,
		}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 10 * time.Second, PermitWithoutStream: true}),
	}
}

// gateway listens for HTTP and says where.
func (p *process) gateway(conn *grpc.ClientConn, f gatewayFlags) error {
	p.conn = conn
	config := gateway.Config{Conn: conn, Origins: f.AllowOrigin}
	if !p.gate.Open() {
		config.Admit = p.admit
	}
	if err := f.pageFlags.apply(&config); err != nil {
		return err
	}
	handler, err := gateway.New(config)
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", f.HTTPAddr)
	if err != nil {
		return fmt.Errorf("--http-addr %s: %w", f.HTTPAddr, err)
	}
	var protocols http.Protocols
	protocols.SetHTTP1(true)
	protocols.SetUnencryptedHTTP2(true)
	protocols.SetHTTP2(true)
	p.http = &http.Server{
		Handler:           p.watch.Handler(handler),
		TLSConfig:         p.tls,
		Protocols:         &protocols,
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(p.log.Handler(), slog.LevelWarn),
	}
	scheme, serve := "http", func() error { return p.http.Serve(listener) }
	if p.tls != nil {
		scheme, serve = "https", func() error { return p.http.ServeTLS(listener, "", "") }
	}
	p.start(serve)
	p.listens = append(p.listens, listener.Addr())
	fmt.Fprintf(p.console.out, "HTTP  %s://%s\n", scheme, listener.Addr())
	return nil
}

// admit refuses a request that no caller makes before its body is read.
func (p *process) admit(r *http.Request) error {
	header := r.Header.Get("Authorization")
	if header == "" && r.TLS != nil && len(r.TLS.VerifiedChains) > 0 {
		return nil
	}
	return p.gate.Check(header, r.RemoteAddr)
}

// wait says who may call, and serves until ctx ends or a listener fails.
func (p *process) wait(ctx context.Context) error {
	fmt.Fprintf(p.console.out, "who   %s\n", p.access.said(p.access.tlsFlags, p.listens...))
	select {
	case <-ctx.Done():
		return nil
	case err := <-p.failed:
		return err
	}
}

// stop lets calls finish for a while and then cuts them off; a live practice
// resumes at another replica.
func (p *process) stop() {
	ctx, cancel := context.WithTimeout(context.Background(), p.grace)
	defer cancel()
	p.watch.Draining()
	if p.health != nil {
		p.health.Shutdown()
	}
	if p.http != nil && p.http.Shutdown(ctx) != nil {
		_ = p.http.Close()
	}
	for _, server := range []*grpc.Server{p.grpc, p.inside} {
		if server != nil {
			stopGRPC(ctx, server)
		}
	}
	if p.conn != nil {
		_ = p.conn.Close()
	}
	flush, cancelFlush := context.WithTimeout(context.Background(), flushTime)
	defer cancelFlush()
	_ = p.watch.Stop(flush)
}

// flushTime is how long the last traces may take to be sent.
const flushTime = 2 * time.Second

func stopGRPC(ctx context.Context, server *grpc.Server) {
	done := make(chan struct{})
	go func() { server.GracefulStop(); close(done) }()
	select {
	case <-done:
	case <-ctx.Done():
		server.Stop()
		<-done
	}
}
