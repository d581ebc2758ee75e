package service

import (
	"context"
	"errors"
	"log/slog"
	"runtime"
	"runtime/debug"
	"sync"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/check"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

// Machine is what the edge needs of swing.Machine.
type Machine interface {
	Push(*body.Frame, swing.Sink) error
	Finish(swing.Sink)
}

// Config says how a server works. The zero value of a field stands for its default.
type Config struct {
	Version    string // told to clients; default "dev"
	Limits     Limits // default DefaultLimits
	Book       *cue.Book
	NewMachine func(swing.Setup) (Machine, error) // default swing.New
	Log        *slog.Logger                       // default: nothing is logged

	// Settlers is how many swings are settled at once, of live practices first;
	// default GOMAXPROCS − 1, at least 1, so that a core is left for live frames.
	Settlers int

	// Took is told how long a stage kept its input, in seconds: "push", one
	// message's frames through the live depth, with the wait for swings that are
	// too many; "queue", a swing's wait to be settled; "settle", one swing's whole
	// solve. nil: nobody is, and no clock is read for it.
	Took func(stage string, seconds float64)
}

// Server answers the calls of the contract. It keeps nothing between calls.
type Server struct {
	pb.UnimplementedSwingAnalysisServiceServer
	config  Config
	guard   guard
	streams slots
	clips   slots
	pool    *pool
}

// New returns a server. It fails when the limits or the cue catalog are unfit.
func New(c Config) (*Server, error) {
	if c.Version == "" {
		c.Version = "dev"
	}
	if c.Limits == (Limits{}) {
		c.Limits = DefaultLimits()
	}
	if err := c.Limits.Validate(); err != nil {
		return nil, err
	}
	if c.Settlers < 0 {
		return nil, errors.New("settlers must not be negative")
	}
	if c.Settlers == 0 {
		c.Settlers = max(1, runtime.GOMAXPROCS(0)-1)
	}
	if c.NewMachine == nil {
		c.NewMachine = newMachine
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	if c.Book == nil {
		book, err := ownBook()
		if err != nil {
			return nil, err
		}
		c.Book = book
	}
	return &Server{
		config: c, guard: newGuard(c.Limits),
		streams: newSlots(c.Limits.Streams), clips: newSlots(c.Limits.Clips),
		pool: newPool(c.Settlers, c.Took),
	}, nil
}

// ownBook is the catalog that comes with the program. Its conditions are compiled once
// for all servers of a process: that takes longer than all else of New.
var ownBook = sync.OnceValues(func() (*cue.Book, error) { return cue.Load(cue.Base(), check.Phrases()) })

func newMachine(s swing.Setup) (Machine, error) { return swing.New(s) }

// transportBuffer is the size of a connection's buffers, bytes: a player's
// connection carries some 8 KB a message one way and less the other.
const transportBuffer = 8 << 10

// Windows of a connection, bytes: how much may be on its way unread. They stay as they
// are, since a window that gRPC fits to the line costs a ping and its answer for every
// message of a practice. A stream's holds four seconds of plain frames, or a clip's
// upload at 2.5 MB/s over a line of 100 ms; a stream that is held has no more than
// that of the server's memory. A connection is credited as bytes come, read or not.
const (
	StreamWindow     = 256 << 10
	ConnectionWindow = 1 << 20
)

// Transport is how connections are kept. It is apart from Options so that what the
// transport alone can carry is measured with the same.
func Transport() []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.ReadBufferSize(transportBuffer), grpc.WriteBufferSize(transportBuffer),
		grpc.StaticStreamWindowSize(StreamWindow), grpc.StaticConnWindowSize(ConnectionWindow),
	}
}

// Options are what a gRPC server needs to serve this service: message sizes,
// the guarding codec, and interceptors that turn errors into statuses.
func (s *Server) Options() []grpc.ServerOption {
	return append(Transport(),
		grpc.ForceServerCodecV2(s.guard),
		grpc.MaxRecvMsgSize(s.config.Limits.MessageBytes),
		grpc.MaxSendMsgSize(s.config.Limits.MessageBytes),
		grpc.ChainUnaryInterceptor(s.unary),
		grpc.ChainStreamInterceptor(s.stream),
	)
}

// Register adds the service to a gRPC server that was made with Options.
func (s *Server) Register(to grpc.ServiceRegistrar) { pb.RegisterSwingAnalysisServiceServer(to, s) }

// unary refuses what the codec refused, and maps errors and panics.
func (s *Server) unary(ctx context.Context, req any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (res any, err error) {
	defer s.recovered(info.FullMethod, &err)
	if err := s.guard.refused(req); err != nil {
		return nil, statusError(err)
	}
	res, err = next(ctx, req)
	return res, statusError(err)
}

// stream maps errors and panics of streams.
func (s *Server) stream(srv any, stream grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) (err error) {
	defer s.recovered(info.FullMethod, &err)
	return statusError(next(srv, stream))
}

// recovered turns a panic into INTERNAL: one client's fault must not end the
// others' practices. A panic is a defect; its stack is logged.
func (s *Server) recovered(method string, err *error) {
	if p := recover(); p != nil {
		s.config.Log.Error("panic", "method", method, "panic", p, "stack", string(debug.Stack()))
		*err = status.Error(codes.Internal, "internal error")
	}
}

// slots bound how much goes on at once.
type slots chan struct{}

func newSlots(n int) slots { return make(slots, n) }

// take waits for a slot until ctx ends.
func (s slots) take(ctx context.Context) error {
	select {
	case s <- struct{}{}:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// try takes a slot, or fails at once naming the limit.
func (s slots) try(limit, unit string) error {
	select {
	case s <- struct{}{}:
		return nil
	default:
		return &wire.LimitError{Limit: limit, Most: int64(cap(s)), Unit: unit}
	}
}

func (s slots) free() { <-s }

// share is the part that is taken, in [0, 1].
func (s slots) share() float64 { return float64(len(s)) / float64(cap(s)) }

// Saturation tells which share of a limit is in use: "streams" open, "solvers"
// busy with clips, "settling" places for swings of live practices that wait or
// are being settled.
func (s *Server) Saturation() map[string]float64 {
	return map[string]float64{"streams": s.streams.share(), "solvers": s.clips.share(), "settling": s.pool.share()}
}
