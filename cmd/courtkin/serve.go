package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"
	"google.golang.org/grpc/test/bufconn"

	pb "example.com/courtkin/proto/courtkin/v1"

	"example.com/courtkin/gateway"
	"example.com/courtkin/service"
)

// serviceFlags are the flags of whatever serves gRPC.
type serviceFlags struct {
	GRPCAddr   string `name:"grpc-addr" default:"127.0.0.1:9090" env:"COURTKIN_GRPC_ADDR" help:"Address for gRPC; port 0 picks one."`
	Reflection bool   `env:"COURTKIN_REFLECTION" help:"Answer gRPC reflection."`
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

type serveCmd struct {
	serviceFlags
	gatewayFlags
	stopFlags
}

type serviceCmd struct {
	serviceFlags
	stopFlags
}

type gatewayCmd struct {
	gatewayFlags
	stopFlags
	Service string `default:"127.0.0.1:9090" env:"COURTKIN_SERVICE" help:"Address of the service (a gRPC target)."`
}

// Run serves both in one process, joined in memory.
func (cmd *serveCmd) Run(ctx context.Context, c *console) error {
	p := newProcess(c, cmd.Grace)
	defer p.stop()
	if err := p.service(cmd.serviceFlags); err != nil {
		return err
	}
	inside := bufconn.Listen(1 << 20)
	p.start(func() error { return p.grpc.Serve(inside) })
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
	p := newProcess(c, cmd.Grace)
	defer p.stop()
	if err := p.service(cmd.serviceFlags); err != nil {
		return err
	}
	return p.wait(ctx)
}

// Run serves HTTP for a service elsewhere.
func (cmd *gatewayCmd) Run(ctx context.Context, c *console) error {
	p := newProcess(c, cmd.Grace)
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
	log     *slog.Logger
	grace   time.Duration
	grpc    *grpc.Server
	health  *health.Server
	http    *http.Server
	conn    *grpc.ClientConn // of the gateway to the service
	failed  chan error
}

func newProcess(c *console, grace time.Duration) *process {
	return &process{console: c, log: slog.New(slog.NewTextHandler(c.err, nil)), grace: grace, failed: make(chan error, 4)}
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
	srv, err := service.New(service.Config{Version: programVersion(), Log: p.log})
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", f.GRPCAddr)
	if err != nil {
		return fmt.Errorf("--grpc-addr %s: %w", f.GRPCAddr, err)
	}
	p.grpc = grpc.NewServer(append(srv.Options(),
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: time.Minute, Timeout: 20 * time.Second}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{MinTime: 10 * time.Second, PermitWithoutStream: true}))...)
	srv.Register(p.grpc)
	p.health = health.NewServer()
	p.health.SetServingStatus(pb.SwingAnalysisService_ServiceDesc.ServiceName, healthpb.HealthCheckResponse_SERVING)
	healthpb.RegisterHealthServer(p.grpc, p.health)
	if f.Reflection {
		reflection.Register(p.grpc)
	}
	p.start(func() error { return p.grpc.Serve(listener) })
	fmt.Fprintf(p.console.out, "gRPC  %s\n", listener.Addr())
	return nil
}

// gateway listens for HTTP and says where.
func (p *process) gateway(conn *grpc.ClientConn, f gatewayFlags) error {
	p.conn = conn
	config := gateway.Config{Conn: conn, Origins: f.AllowOrigin}
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
	p.http = &http.Server{
		Handler:           handler,
		Protocols:         &protocols,
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(p.log.Handler(), slog.LevelWarn),
	}
	p.start(func() error { return p.http.Serve(listener) })
	fmt.Fprintf(p.console.out, "HTTP  http://%s\n", listener.Addr())
	return nil
}

// wait serves until ctx ends or a listener fails.
func (p *process) wait(ctx context.Context) error {
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
	if p.health != nil {
		p.health.Shutdown()
	}
	if p.http != nil && p.http.Shutdown(ctx) != nil {
		_ = p.http.Close()
	}
	if p.grpc != nil {
		p.stopGRPC(ctx)
	}
	if p.conn != nil {
		_ = p.conn.Close()
	}
}

func (p *process) stopGRPC(ctx context.Context) {
	done := make(chan struct{})
	go func() { p.grpc.GracefulStop(); close(done) }()
	select {
	case <-done:
	case <-ctx.Done():
		p.grpc.Stop()
		<-done
	}
}
