package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"os/exec"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/keepalive"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/client"
	"example.com/courtkin/service/fault"
)

// The fault suite breaks servers and networks on purpose while a made practice
// is streamed, and holds what comes out to an unbroken run: no swing lost, none
// doubled. Without -short it takes about half a minute; with COURTKIN_LONG set
// it breaks much more, for the figures of deploy/faults.md, which
// -update-faults writes.

// long reports whether the long variant is asked for.
func long() bool { return os.Getenv("COURTKIN_LONG") != "" }

// times is how often a fault is tried.
func times(quick, whenLong int) int {
	if long() {
		return whenLong
	}
	return quick
}

// practice is the made practice of the suite with its reference, made once.
var practice = sync.OnceValue(func() (p struct {
	req    *pb.AnalyzeClipRequest
	swings []string
	err    error
}) {
	p.req = longPractice(times(4, 40))
	srv, err := service.New(service.Config{})
	if err != nil {
		p.err = err
		return p
	}
	res, err := srv.Analyze(context.Background(), p.req, func(int) {})
	for _, s := range res.GetSwings() {
		p.swings = append(p.swings, s.GetId())
	}
	p.err = err
	return p
})

// replica is the program as a process of its own.
type replica struct {
	t    *testing.T
	args []string
	wrap []string // a command that starts it: a shell with lower limits
	grpc string
	http string

	mu  sync.Mutex
	cmd *exec.Cmd
	log *logged
}

// logged keeps what a process says on its standard error.
type logged struct {
	mu  sync.Mutex
	all bytes.Buffer
}

func (l *logged) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.all.Write(p)
}

func (l *logged) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.all.String()
}

// newReplica starts a server; its log is searched for panics at the end.
func newReplica(t *testing.T, wrap []string, args ...string) *replica {
	t.Helper()
	r := &replica{t: t, wrap: wrap, args: args, log: &logged{}, grpc: freeAddress(t), http: freeAddress(t)}
	r.start()
	t.Cleanup(func() {
		r.kill()
		if said := r.log.String(); strings.Contains(said, "panic") {
			t.Errorf("a panic in the log:\n%s", said)
		}
	})
	return r
}

// freeAddress finds an address that is free now and stays so between a kill and a
// restart: below the ports that the system gives to outgoing connections.
func freeAddress(t *testing.T) string {
	t.Helper()
	for range 100 {
		l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", 20000+rand.IntN(10000)))
		if err != nil {
			continue
		}
		defer l.Close()
		return l.Addr().String()
	}
	t.Fatal("no free port")
	return ""
}

// start starts the process and waits until it listens.
func (r *replica) start() {
	r.mu.Lock()
	defer r.mu.Unlock()
	args := append([]string{"serve", "--grpc-addr", r.grpc, "--http-addr", r.http}, r.args...)
	argv := append(append([]string{}, r.wrap...), os.Args[0])
	r.cmd = exec.Command(argv[0], argv[1:]...)
	r.cmd.Env = append(os.Environ(), "COURTKIN_TEST_RUN="+strings.Join(args, "\n"))
	r.cmd.Stderr = r.log
	out, err := r.cmd.StdoutPipe()
	if err == nil {
		err = r.cmd.Start()
	}
	if err != nil {
		r.t.Error(err)
		return
	}
	lines := bufio.NewScanner(out)
	for lines.Scan() && !strings.HasPrefix(lines.Text(), "HTTP") {
	}
	go func() { _, _ = io.Copy(io.Discard, out) }()
}

func (r *replica) kill() { r.end(syscall.SIGKILL) }

// end sends a signal and waits for the process.
func (r *replica) end(sig syscall.Signal) {
	r.mu.Lock()
	defer r.mu.Unlock()
	_ = r.cmd.Process.Signal(sig)
	_ = r.cmd.Wait()
}

func (r *replica) signal(sig syscall.Signal) {
	r.mu.Lock()
	defer r.mu.Unlock()
	_ = r.cmd.Process.Signal(sig)
}

// memory is what the process has resident, in bytes.
func (r *replica) memory() int64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/statm", r.cmd.Process.Pid))
	var all, resident int64
	if _, scanned := fmt.Sscan(string(raw), &all, &resident); err != nil || scanned != nil {
		return 0
	}
	return resident * int64(os.Getpagesize())
}

// run is one streaming of the practice under a fault.
type streaming struct {
	targets []string
	offset  int64         // added to every time, µs
	alive   time.Duration // keepalive; 0: none
	before  func(i int)   // called before frame i is handed over; may be nil
}

// stream plays the practice and returns the swings' ids, and after each break
// how long it took until frames were acknowledged again.
func (s streaming) play(t *testing.T) (ids []string, recovered []time.Duration) {
	t.Helper()
	p := practice()
	if p.err != nil {
		t.Fatal(p.err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Duration(times(5, 20))*time.Minute)
	defer cancel()
	dial := []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())}
	if s.alive > 0 {
		dial = append(dial, grpc.WithKeepaliveParams(keepalive.ClientParameters{Time: s.alive, Timeout: 2 * time.Second}))
	}
	var mu sync.Mutex
	var broken time.Time
	c, err := client.Start(ctx, client.Config{
		Targets: s.targets, Dial: dial, Open: &pb.StreamPracticeRequest_Open{Setup: p.req.Setup},
		Handle: func(m *pb.StreamPracticeResponse) {
			mu.Lock()
			defer mu.Unlock()
			if w := m.GetSwing(); w != nil {
				ids = append(ids, w.GetId())
			}
			if m.GetAck() != nil && !broken.IsZero() {
				recovered = append(recovered, time.Since(broken))
				broken = time.Time{}
			}
		},
		Lost: func(error) {
			mu.Lock()
			defer mu.Unlock()
			if broken.IsZero() {
				broken = time.Now()
			}
		},
		FirstPause: 20 * time.Millisecond, LastPause: 200 * time.Millisecond, Tries: 5000, Window: 256, Keep: 2048,
	})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	for i, f := range p.req.Frames {
		if s.before != nil {
			s.before(i)
		}
		if s.offset != 0 {
			f = &pb.Frame{Index: f.Index, TimeUs: f.TimeUs + s.offset, World: f.World, RacketWorld: f.RacketWorld, BallWorld: f.BallWorld}
		}
		if err := c.Send(ctx, f); err != nil {
			t.Fatal(err)
		}
	}
	if err := c.Finish(ctx); err != nil {
		t.Fatal(err)
	}
	return ids, recovered
}

// held compares with the unbroken run, fails on a difference, and returns it.
func held(t *testing.T, ids []string) (lost, doubled int) {
	t.Helper()
	left := map[string]int{}
	for _, id := range practice().swings {
		left[id]++
	}
	for _, id := range ids {
		if left[id]--; left[id] < 0 {
			doubled++
		}
	}
	for _, n := range left {
		lost += max(n, 0)
	}
	if lost > 0 || doubled > 0 || len(ids) == 0 {
		t.Errorf("%d swings of %d: %d lost, %d doubled", len(ids), len(practice().swings), lost, doubled)
	}
	return lost, doubled
}

// instants draws n frames before which a fault is made.
func instants(seed uint64, n int) map[int]bool {
	r := rand.New(rand.NewPCG(seed, 99))
	out := map[int]bool{}
	for frames := len(practice().req.Frames); len(out) < n; {
		out[50+r.IntN(frames-100)] = true
	}
	return out
}

// faultTest is the common start of a fault's test.
func faultTest(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("starts processes")
	}
	if p := practice(); p.err != nil || len(p.swings) == 0 {
		t.Fatalf("no reference: %v", p.err)
	}
}

func TestFaultKilled(t *testing.T) {
	faultTest(t)
	row := &figures{}
	for try := range times(1, 5) {
		replicas := []*replica{newReplica(t, nil), newReplica(t, nil)}
		when := instants(uint64(try), times(4, 40))
		next := 0
		ids, recovered := streaming{targets: []string{replicas[0].grpc, replicas[1].grpc}, before: func(i int) {
			if when[i] {
				victim := replicas[next%2]
				next++
				victim.kill()
				victim.start()
			}
		}}.play(t)
		row.took(t, next, ids, recovered)
	}
	row.tell("killed")
}

func TestFaultPaused(t *testing.T) {
	faultTest(t)
	a, b := newReplica(t, nil), newReplica(t, nil)
	row := &figures{}
	pauses := []time.Duration{time.Second}
	if long() {
		pauses = []time.Duration{time.Second, 5 * time.Second, 30 * time.Second}
	}
	for n, pause := range pauses {
		when := instants(uint64(n)+10, 1)
		var resumed sync.WaitGroup
		ids, recovered := streaming{targets: []string{a.grpc, b.grpc}, alive: 10 * time.Second, before: func(i int) {
			if when[i] {
				a.signal(syscall.SIGSTOP)
				resumed.Go(func() { time.Sleep(pause); a.signal(syscall.SIGCONT) })
			}
		}}.play(t)
		resumed.Wait()
		row.took(t, 1, ids, recovered)
	}
	row.tell("paused")
}

// throughProxies streams through two proxies that do the same harm, to two replicas.
func throughProxies(t *testing.T, harm fault.Harm, alive time.Duration) (ids []string, recovered []time.Duration, hurt int) {
	t.Helper()
	var targets []string
	var proxies []*fault.Proxy
	for range 2 {
		p, err := fault.NewProxy(newReplica(t, nil).grpc, harm)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(p.Close)
		proxies, targets = append(proxies, p), append(targets, p.Address())
	}
	ids, recovered = streaming{targets: targets, alive: alive}.play(t)
	for _, p := range proxies {
		hurt += p.Hurt()
	}
	return ids, recovered, hurt
}

// between draws numbers of bytes; each connection gets another.
func between(seed uint64, low, high int) func() int {
	r := rand.New(rand.NewPCG(seed, 5))
	var mu sync.Mutex
	return func() int { mu.Lock(); defer mu.Unlock(); return low + r.IntN(high-low) }
}

func TestFaultCut(t *testing.T) {
	faultTest(t)
	row := &figures{}
	for try := range times(1, 3) {
		// A window of 256 frames is about 110 kB, and a swing's frames are some
		// 150: a connection must carry more, or nothing ever advances.
		ids, recovered, hurt := throughProxies(t, fault.Harm{CutAfter: between(uint64(try), 200_000, 500_000)}, 0)
		if hurt == 0 {
			t.Error("nothing was cut")
		}
		row.took(t, hurt, ids, recovered)
	}
	row.tell("connection cut")
}

func TestFaultHalfOpen(t *testing.T) {
	faultTest(t)
	t.Parallel()
	row := &figures{}
	first := true
	var mu sync.Mutex
	once := func() int { // the first connection alone
		mu.Lock()
		defer mu.Unlock()
		if first {
			first = false
			return 150_000
		}
		return -1
	}
	for range times(1, 3) {
		first = true
		begin := time.Now()
		ids, recovered, hurt := throughProxies(t, fault.Harm{StallAfter: once}, 10*time.Second)
		if hurt != 1 {
			t.Errorf("%d connections stalled", hurt)
		}
		t.Logf("all of it took %v", time.Since(begin))
		row.took(t, hurt, ids, recovered)
	}
	row.tell("connection half open")
}

func TestFaultSlowNetwork(t *testing.T) {
	faultTest(t)
	t.Parallel()
	row := &figures{}
	ids, recovered, _ := throughProxies(t, fault.Harm{Rate: 200_000, Delay: 20 * time.Millisecond, Jitter: 30 * time.Millisecond}, 0)
	row.took(t, 1, ids, recovered)
	row.tell("slow network")
}

// TestFaultRollout replaces two replicas one by one while several players stream.
func TestFaultRollout(t *testing.T) {
	faultTest(t)
	replicas := []*replica{newReplica(t, nil, "--grace", "200ms"), newReplica(t, nil, "--grace", "200ms")}
	targets := []string{replicas[0].grpc, replicas[1].grpc}
	row := &figures{}
	stop := make(chan struct{})
	var rolling, players sync.WaitGroup
	rolling.Go(func() {
		for i := range times(4, 40) {
			select {
			case <-stop:
				return
			case <-time.After(time.Second):
				replicas[i%2].end(syscall.SIGTERM)
				replicas[i%2].start()
			}
		}
	})
	var mu sync.Mutex
	for i := range times(2, 6) {
		players.Go(func() {
			ids, recovered := streaming{targets: []string{targets[i%2], targets[(i+1)%2]}}.play(t)
			mu.Lock()
			defer mu.Unlock()
			row.took(t, len(recovered), ids, recovered)
		})
	}
	players.Wait()
	close(stop)
	rolling.Wait()
	row.tell("rollout under load")
}

// TestFaultClocks streams with frames' clocks an hour off either way, and as
// far off as clocks go: swings come at the same frames.
func TestFaultClocks(t *testing.T) {
	faultTest(t)
	r := newReplica(t, nil)
	row := &figures{}
	want := len(practice().swings)
	for _, offset := range []int64{-3_600_000_000, 3_600_000_000, 1_790_000_000_000_000} {
		ids, _ := streaming{targets: []string{r.grpc}, offset: offset}.play(t)
		seen := map[string]bool{}
		for _, id := range ids {
			seen[id] = true
		}
		row.tries++
		row.lost += max(0, want-len(seen))
		row.doubled += len(ids) - len(seen)
		if len(ids) != want || len(seen) != want {
			t.Errorf("clock off by %d µs: %d swings, %d different; want %d", offset, len(ids), len(seen), want)
		}
	}
	row.tell("clock skew")
}
