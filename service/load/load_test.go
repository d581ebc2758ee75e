package load

import (
	"context"
	"net"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	pb "example.com/courtkin/proto/courtkin/v1"
)

func TestHoldCountsWhatIsMissingAndTwice(t *testing.T) {
	for _, c := range []struct {
		name               string
		want, got          []string
		lost, doubled, odd int64
	}{
		{"equal", []string{"a", "b"}, []string{"a", "b"}, 0, 0, 0},
		{"one missing", []string{"a", "b"}, []string{"b"}, 1, 0, 0},
		{"one twice", []string{"a", "b"}, []string{"a", "b", "a"}, 0, 1, 0},
		{"a stranger in place of one", []string{"a", "b"}, []string{"a", "c"}, 1, 0, 1},
		{"nothing wanted", nil, []string{"a"}, 0, 0, 1},
	} {
		sum := &tally{}
		sum.hold(c.want, c.got)
		if l, d, o := sum.lost.Load(), sum.doubled.Load(), sum.odd.Load(); l != c.lost || d != c.doubled || o != c.odd {
			t.Errorf("%s: lost %d doubled %d strange %d, want %d %d %d", c.name, l, d, o, c.lost, c.doubled, c.odd)
		}
	}
}

// TestQuantiles: of 1 ms to 1000 ms the quantiles are their own ranks, within a bucket's 2 %.
func TestQuantiles(t *testing.T) {
	s := &spread{}
	for i := 1; i <= 1000; i++ {
		s.add(time.Duration(i) * time.Millisecond)
	}
	for _, c := range []struct {
		q    float64
		want time.Duration
	}{{0.5, 500 * time.Millisecond}, {0.99, 990 * time.Millisecond}, {0.999, 999 * time.Millisecond}, {1, time.Second}} {
		got := s.quantile(c.q)
		if got < c.want || float64(got) > 1.021*float64(c.want) {
			t.Errorf("quantile %v: %v, want %v to 2 %% above", c.q, got, c.want)
		}
	}
	if (&spread{}).quantile(0.5) != 0 {
		t.Error("nothing has a median")
	}
}

// TestSearchFindsTheEdge gives a search servers that are well up to a number.
func TestSearchFindsTheEdge(t *testing.T) {
	for _, edge := range []int{1, 7, 50, 437, 5000} {
		s := Search{From: 50, Most: 2000, Bound: time.Second, Closer: 0.1, Trials: 30, Delay: func(r *Result) Delays { return r.Ack }, Settled: time.Second}
		best, all := s.Highest(t.Context(), func(n int) *Result {
			d := Delays{Count: 1, P99: time.Millisecond}
			late := d
			late.P99 = time.Minute
			switch {
			case n <= edge:
				return &Result{Players: n, Ack: d, Swing: d}
			case n%2 == 0:
				return &Result{Players: n, Ack: late}
			}
			return &Result{Players: n, Ack: d, Swing: late}
		})
		want := min(edge, s.Most)
		if best == nil || best.Players > want || float64(best.Players) < 0.89*float64(want) || len(all) > 20 {
			t.Errorf("edge %d: %+v after %d trials", edge, best, len(all))
		}
	}
}

// TestEchoTrial plays a script against the echo, over real connections.
func TestEchoTrial(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := grpc.NewServer()
	pb.RegisterSwingAnalysisServiceServer(server, Echo{})
	go func() { _ = server.Serve(listener) }()
	defer server.Stop()
	s := &Script{Setup: &pb.Setup{Layout: pb.PointLayout_POINT_LAYOUT_COCO_17}}
	for i := range 60 { // one second
		s.Frames = append(s.Frames, &pb.Frame{Index: uint32(i), TimeUs: int64(i) * 16_667})
	}
	for _, compact := range []bool{false, true} {
		to := Target{Address: listener.Addr().String(), Batch: 8, Compact: compact,
			Dial: []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())}}
		r := Run(t.Context(), to, []*Script{s}, Trial{Players: 3, Rounds: 1, Ramp: 50 * time.Millisecond}, nil)
		if !r.Well() || r.Practices != 3 || r.Frames != 180 || r.Ack.Count < 24 || // more when the clock splits a batch
			r.Up <= 0 || r.Down <= 0 {
			t.Errorf("compact %v: %+v", compact, r)
		}
	}
}

// TestATrialEndsWithItsContext: a server that never answers must not hold the tool.
func TestATrialEndsWithItsContext(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	s := &Script{Setup: &pb.Setup{}, Frames: []*pb.Frame{{}, {Index: 1, TimeUs: 100_000}}}
	for _, socket := range []bool{false, true} {
		to := Target{Address: listener.Addr().String(), Batch: 1, WebSocket: socket,
			Dial: []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())}}
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		defer cancel()
		if r := Run(ctx, to, []*Script{s}, Trial{Players: 2, Rounds: 1}, nil); r.Failed != 2 {
			t.Errorf("websocket %v: %+v", socket, r)
		}
	}
}
