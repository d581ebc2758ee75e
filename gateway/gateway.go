package gateway

import (
	"context"
	"errors"
	"io/fs"
	"net/http"
	"time"

	"google.golang.org/grpc"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	"example.com/courtkin/gateway/web"
	"example.com/courtkin/proto"
	pb "example.com/courtkin/proto/courtkin/v1"
)

// Config says how the gateway serves. The zero value of a field stands for its
// default, but for Conn, which must be set.
type Config struct {
	Conn grpc.ClientConnInterface // to the service

	// Admit refuses a request to /v1/ before its body is read, with a gRPC status;
	// nil: none is. The service decides all the same.
	Admit func(*http.Request) error

	Origins []string // other origins that browsers may call from ("https://club.example"); "*": any
	Web     fs.FS    // the page, served at /; nil: none
	Pose    fs.FS    // the page's pose estimator, an add-on; nil: none

	BodyBytes    int64         // of a request's body; default 256 MiB, a clip of 64 MiB protobuf as JSON
	LineBytes    int           // of one line or WebSocket message; default 4 MiB
	MessageBytes int           // of one gRPC message; default 96 MiB, as the service's own limit
	Objects      int           // of one JSON body or line; default 1,000,000
	CallTime     time.Duration // for a single call; default 5 min
	WriteTime    time.Duration // for a slow reader to take a message; default 10 s
	PingTime     time.Duration // between two pings of a WebSocket; default 20 s
	Linger       time.Duration // for a client to read why its stream was broken off; default 500 ms
}

// Default returns the configuration with every zero field set to its default.
func (c Config) withDefaults() Config {
	c.BodyBytes = or(c.BodyBytes, 256<<20)
	c.LineBytes = or(c.LineBytes, 4<<20)
	c.MessageBytes = or(c.MessageBytes, 96<<20)
	c.Objects = or(c.Objects, 1_000_000)
	c.CallTime = or(c.CallTime, 5*time.Minute)
	c.WriteTime = or(c.WriteTime, 10*time.Second)
	c.PingTime = or(c.PingTime, 20*time.Second)
	c.Linger = or(c.Linger, 500*time.Millisecond)
	return c
}

func or[T comparable](v, otherwise T) T {
	var zero T
	if v == zero {
		return otherwise
	}
	return v
}

// gateway is the handlers' common ground.
type gateway struct {
	config Config
	client pb.SwingAnalysisServiceClient
	health healthpb.HealthClient
}

// New returns the handler of all routes. It fails without a connection.
func New(c Config) (http.Handler, error) {
	if c.Conn == nil {
		return nil, errors.New("gateway: no connection to the service")
	}
	c = c.withDefaults()
	conn := sized{c.Conn, c.MessageBytes}
	g := &gateway{config: c, client: pb.NewSwingAnalysisServiceClient(conn), health: healthpb.NewHealthClient(conn)}
	calls, err := g.calls(conn)
	if err != nil {
		return nil, err
	}
	page, err := g.page()
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	mux.Handle("/v1/", g.admitted(zipped(calls)))
	mux.Handle("GET /v1/catalog", g.admitted(zipped(kept(calls))))
	mux.Handle("POST /v1/practices:stream", g.admitted(http.HandlerFunc(g.stream)))
	mux.Handle("GET /v1/practices/live", g.admitted(http.HandlerFunc(g.live)))
	mux.HandleFunc("GET /healthz", g.alive)
	mux.HandleFunc("GET /readyz", g.ready)
	mux.Handle("GET /openapi.json", zipped(kept(http.HandlerFunc(openAPI))))
	mux.Handle("/", page)
	return g.identify(g.cors(mux)), nil
}

// sized raises gRPC's limit on answers: a clip's traces are larger than its default.
type sized struct {
	grpc.ClientConnInterface
	bytes int
}

func (s sized) Invoke(ctx context.Context, method string, args, reply any, opts ...grpc.CallOption) error {
	return s.ClientConnInterface.Invoke(ctx, method, args, reply, append(opts, s.options()...)...)
}

func (s sized) NewStream(ctx context.Context, d *grpc.StreamDesc, method string, opts ...grpc.CallOption) (grpc.ClientStream, error) {
	return s.ClientConnInterface.NewStream(ctx, d, method, append(opts, s.options()...)...)
}

func (s sized) options() []grpc.CallOption {
	return []grpc.CallOption{grpc.MaxCallRecvMsgSize(s.bytes), grpc.MaxCallSendMsgSize(s.bytes)}
}

// alive answers that the gateway runs.
func (g *gateway) alive(w http.ResponseWriter, _ *http.Request) { text(w, http.StatusOK, "ok") }

// readyTime is how long a probe waits for the service.
const readyTime = 2 * time.Second

// ready answers whether the service behind takes calls.
func (g *gateway) ready(w http.ResponseWriter, r *http.Request) {
	ctx, cancel := context.WithTimeout(r.Context(), readyTime)
	defer cancel()
	res, err := g.health.Check(ctx, &healthpb.HealthCheckRequest{})
	if err != nil || res.GetStatus() != healthpb.HealthCheckResponse_SERVING {
		text(w, http.StatusServiceUnavailable, "the service is not ready")
		return
	}
	text(w, http.StatusOK, "ready")
}

func text(w http.ResponseWriter, code int, s string) {
	w.Header().Set("Content-Type", "text/plain; charset=utf-8")
	w.WriteHeader(code)
	_, _ = w.Write([]byte(s + "\n"))
}

func openAPI(w http.ResponseWriter, _ *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(proto.OpenAPI)
}

// page serves the files of the page, or says that there is none.
func (g *gateway) page() (http.Handler, error) {
	if g.config.Web != nil {
		return web.Handler(g.config.Web, g.config.Pose)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		text(w, http.StatusNotFound, "not found; the calls are described at /openapi.json")
	}), nil
}
