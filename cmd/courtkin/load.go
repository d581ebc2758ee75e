package main

import (
	"context"
	"fmt"
	"math"
	"net"
	"os"
	"runtime"
	"text/tabwriter"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/load"
	"example.com/courtkin/service/synth"
)

type loadCmd struct {
	Players   int           `default:"50" help:"Players at once, 1 to 5000; with --search the first trial's."`
	Minutes   float64       `default:"1" help:"Length of a trial, 0.1 to 240."`
	FPS       int           `name:"fps" default:"60" help:"Frames a second."`
	Batch     int           `default:"8" help:"Frames in a message, 1 to 32."`
	Compact   bool          `help:"Send compact blocks: a third of the bytes."`
	Condition string        `enum:"W,P" default:"P" help:"What is filmed: P phone, W 3-D."`
	Transport string        `enum:"grpc,websocket" default:"grpc" help:"How players stream: grpc or websocket."`
	To        string        `placeholder:"ADDRESS" help:"A running server; without it one is started as a process of its own."`
	Remote    bool          `help:"Allow --to to leave this machine. Ask its owner first."`
	Search    bool          `help:"Look for the most players at which CONTACT's delay stays under --bound and settled swings' under --settled."`
	Most      int           `default:"4000" help:"Most players of a search, up to 5000."`
	Bound     time.Duration `default:"100ms" help:"Bound on the 99th percentile of a delay in a search."`
	Settled   time.Duration `default:"1s" help:"The same on that of settled swings, in a search: a player has the cue before the next ball."`
	Echo      bool          `default:"true" negatable:"" help:"Measure a bare gRPC echo of the same messages in the same run."`
	Scripts   int           `default:"8" help:"Different practices, 1 to 64."`
	Seed      uint64        `default:"1" help:"Other seeds are other players."`
	callFlags
}

// Run plays made practices and prints what it took.
func (cmd *loadCmd) Run(ctx context.Context, c *console) error {
	if err := cmd.check(); err != nil {
		return err
	}
	to, err := cmd.target()
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, cmd.longest())
	defer cancel()
	scripts, err := load.Scripts(ctx, load.Kind{
		Condition: synth.Condition(cmd.Condition[0]), FPS: cmd.FPS, Seconds: cmd.seconds() / float64(cmd.rounds()),
		Count: cmd.Scripts, Compact: cmd.Compact, Seed: cmd.Seed,
	})
	if err != nil {
		return err
	}
	cmd.introduce(c, scripts)
	best, err := cmd.measure(ctx, c, to, scripts)
	if err != nil {
		return err
	}
	if !cmd.Echo || cmd.Transport != "grpc" {
		return cmd.verdict(c, best, nil)
	}
	echo, err := cmd.echo(ctx, c, load.Silent(scripts))
	if err != nil {
		return err
	}
	return cmd.verdict(c, best, echo)
}

// check refuses flags that cannot be meant.
func (cmd *loadCmd) check() error {
	switch {
	case cmd.Players < 1 || cmd.Players > 5000, cmd.Most < 1 || cmd.Most > 5000:
		return usage("--players and --most must be 1 to 5000")
	case !(cmd.Minutes >= 0.1 && cmd.Minutes <= 240):
		return usage("--minutes must be 0.1 to 240")
	case cmd.Batch < 1 || cmd.Batch > 32, cmd.Scripts < 1 || cmd.Scripts > 64:
		return usage("--batch must be 1 to 32, --scripts 1 to 64")
	case cmd.FPS < 1, cmd.Bound <= 0, cmd.Settled <= 0:
		return usage("--fps, --bound and --settled must be above 0")
	case cmd.To != "" && !cmd.Remote && !loopback(cmd.To):
		return usage("--to %s: not on this machine; add --remote when you may load it", cmd.To)
	}
	return nil
}

// loopback reports whether an address is this machine's own.
func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func (cmd *loadCmd) seconds() float64 { return 60 * cmd.Minutes }

// rounds is how many practices each player plays: none is longer than a minute.
func (cmd *loadCmd) rounds() int { return int(math.Ceil(cmd.Minutes)) }

// maxTrials bounds a search.
const maxTrials = 14

// longest bounds a run, whatever happens: every trial at twice its length, and
// a while for making the practices.
func (cmd *loadCmd) longest() time.Duration {
	trials := 2
	if cmd.Search {
		trials = 2 * maxTrials
	}
	return 10*time.Minute + time.Duration(trials)*time.Duration(2*cmd.seconds()*float64(time.Second))
}

func (cmd *loadCmd) introduce(c *console, scripts []*load.Script) {
	seconds, frames, balls, swings := load.Summary(scripts)
	fmt.Fprintf(c.out, "%s, %d cores, %s; load tool on the same machine\n", cpuModel(), runtime.NumCPU(), runtime.Version())
	fmt.Fprintf(c.out, "%d practices: a ball every %.1f s, %.0f frames/s, %d frames a message, condition %s, %s; %d balls made, an unbroken run finds %d\n\n",
		len(scripts), seconds/float64(max(balls, 1)), float64(frames)/seconds, cmd.Batch, cmd.Condition, cmd.Transport, balls, swings)
}

// measure runs the trials against the service and returns the one to report.
func (cmd *loadCmd) measure(ctx context.Context, c *console, to load.Target, scripts []*load.Script) (*load.Result, error) {
	var server *load.Process
	if cmd.To == "" {
		child, err := cmd.start(ctx, c)
		if err != nil {
			return nil, err
		}
		defer child.Stop()
		server = &child.Process
		if to.Address = child.GRPC; to.WebSocket {
			to.Address = child.HTTP
		}
	}
	fmt.Fprintln(c.out, "service")
	return cmd.trials(ctx, c, to, scripts, server, func(r *load.Result) load.Delays { return r.Contact })
}

// target is where players stream to, and how they call.
func (cmd *loadCmd) target() (to load.Target, err error) {
	call := cmd.callFlags
	if cmd.To == "" {
		call = callFlags{} // our own server asks for nothing
	}
	to = load.Target{Address: cmd.To, WebSocket: cmd.Transport == "websocket", Batch: cmd.Batch, Compact: cmd.Compact}
	if to.Dial, err = call.options(cmd.To); err != nil {
		return to, err
	}
	if key := call.header(); key != "" {
		to.Header = map[string]string{"Authorization": key}
	}
	to.TLS, err = call.config()
	return to, err
}

// start starts a server of this very program.
func (cmd *loadCmd) start(ctx context.Context, c *console) (*load.Server, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, err
	}
	args := []string{"service", "--grpc-addr=127.0.0.1:0"}
	if cmd.Transport == "websocket" {
		args = []string{"serve", "--grpc-addr=127.0.0.1:0", "--http-addr=127.0.0.1:0"}
	}
	return load.Start(ctx, c.err, cmd.Transport == "websocket", program, args...)
}

// trials runs one trial, or a search.
func (cmd *loadCmd) trials(ctx context.Context, c *console, to load.Target, scripts []*load.Script, server *load.Process,
	delay func(*load.Result) load.Delays) (*load.Result, error) {
	try := func(players int) *load.Result {
		r := load.Run(ctx, to, scripts, load.Trial{Players: players, Rounds: cmd.rounds(), Ramp: rampTime}, server)
		if ctx.Err() == nil {
			printTrial(c, r)
		}
		return r
	}
	if !cmd.Search {
		return try(cmd.Players), ctx.Err()
	}
	best, _ := load.Search{From: cmd.Players, Most: cmd.Most, Bound: cmd.Bound, Delay: delay, Settled: cmd.Settled, Closer: 0.1, Trials: maxTrials}.Highest(ctx, try)
	return best, ctx.Err()
}

// rampTime is over which players begin: one ball's time, so that their swings
// are spread as evenly as strangers' are.
const rampTime = 4 * time.Second

func (cmd *loadCmd) echo(ctx context.Context, c *console, scripts []*load.Script) (*load.Result, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, err
	}
	child, err := load.Start(ctx, c.err, false, program, "echo")
	if err != nil {
		return nil, err
	}
	defer child.Kill()
	fmt.Fprintln(c.out, "\nbare gRPC echo of the same messages")
	to := load.Target{Address: child.GRPC, Batch: cmd.Batch, Compact: cmd.Compact,
		Dial: []grpc.DialOption{grpc.WithTransportCredentials(insecure.NewCredentials())}}
	return cmd.trials(ctx, c, to, scripts, &child.Process, func(r *load.Result) load.Delays { return r.Ack })
}

// verdict sums up; swings lost or doubled, or players that failed, fail the command.
func (cmd *loadCmd) verdict(c *console, best, echo *load.Result) error {
	fmt.Fprintln(c.out)
	if best == nil {
		return fmt.Errorf("not one of the trials was served within %v, its swings within %v", cmd.Bound, cmd.Settled)
	}
	printResult(c, best)
	if echo != nil {
		most := ""
		if cmd.Search && echo.Players >= cmd.Most {
			most = " (no more were tried: --most)"
		}
		fmt.Fprintf(c.out, "echo: %d players%s, ack p99 %v, %v CPU a player-hour; service to echo %.2f in players, echo to service %.2f in CPU\n",
			echo.Players, most, echo.Ack.P99.Round(100*time.Microsecond), perHour(echo, echo.Server), float64(best.Players)/float64(echo.Players),
			float64(perHour(echo, echo.Server))/float64(perHour(best, best.Server)))
	}
	for _, f := range best.Failures {
		fmt.Fprintln(c.err, "courtkin: "+oneLine(f))
	}
	if !best.Well() {
		return fmt.Errorf("%d swings lost, %d doubled, %d not of the reference; %d players failed, %d connections broke",
			best.Lost, best.Doubled, best.Strange, best.Failed, best.Breaks)
	}
	return nil
}

// perHour is the CPU time that a player's hour takes.
func perHour(r *load.Result, u load.Usage) time.Duration {
	if r.Played <= 0 {
		return 0
	}
	return (time.Duration(float64(u.CPU) / r.Played.Hours())).Round(100 * time.Millisecond)
}

// printTrial prints a line for a trial.
func printTrial(c *console, r *load.Result) {
	fmt.Fprintf(c.out, "%5d players: %7.0f frames/s, ack p99 %8v, contact p50 %8v p99 %8v, swing p50 %8v p99 %8v, cores %.2f server %.2f tool, lost %d doubled %d strange %d failed %d\n",
		r.Players, r.PerSecond, ms(r.Ack.P99), ms(r.Contact.P50), ms(r.Contact.P99), ms(r.Swing.P50), ms(r.Swing.P99), cores(r, r.Server), cores(r, r.Tool),
		r.Lost, r.Doubled, r.Strange, r.Failed)
}

func ms(d time.Duration) time.Duration { return d.Round(100 * time.Microsecond) }

// cores is how many cores a process kept busy.
func cores(r *load.Result, u load.Usage) float64 {
	return u.CPU.Seconds() / max(r.Took.Seconds(), 1e-9)
}

// printResult prints a trial in full.
func printResult(c *console, r *load.Result) {
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	row := func(name, format string, args ...any) { fmt.Fprintf(w, "%s\t%s\n", name, fmt.Sprintf(format, args...)) }
	row("players", "%d, %d practices of %.0f player-minutes", r.Players, r.Practices, r.Played.Minutes())
	row("frames/s", "%.0f, %.1f a message", r.PerSecond, r.PerBatch)
	row("swings", "%d expected, %d found, %d lost, %d doubled, %d not of the reference", r.Expected, r.Found, r.Lost, r.Doubled, r.Strange)
	for _, d := range []struct {
		name   string
		Delays load.Delays
	}{
		{"ack, from its message", r.Ack}, {"CONTACT, from the message that shows it", r.Contact},
		{"CONTACT, from its own instant", r.Instant}, {"swing, from the message after its window", r.Swing},
	} {
		row(d.name, "p50 %v, p99 %v, p99.9 %v (%d)", ms(d.Delays.P50), ms(d.Delays.P99), ms(d.Delays.P999), d.Delays.Count)
	}
	row("bytes/s a player", "%.0f up, %.0f down", r.Up, r.Down)
	if r.Server.CPU > 0 {
		row("server", "%.2f cores, %v CPU a player-hour, %d MB", cores(r, r.Server), perHour(r, r.Server), r.Server.Memory>>20)
	}
	row("this tool", "%.2f cores, worst lateness %v", cores(r, r.Tool), ms(r.Late))
	_ = w.Flush()
}

// echoCmd serves the echo of the load tool.
type echoCmd struct {
	GRPCAddr string `name:"grpc-addr" default:"127.0.0.1:0" help:"Address for gRPC."`
}

// Run serves until it is told to stop.
func (cmd *echoCmd) Run(ctx context.Context, c *console) error {
	listener, err := net.Listen("tcp", cmd.GRPCAddr)
	if err != nil {
		return err
	}
	server := grpc.NewServer(service.Transport()...)
	pb.RegisterSwingAnalysisServiceServer(server, load.Echo{})
	fmt.Fprintf(c.out, "gRPC  %s\n", listener.Addr())
	go func() { <-ctx.Done(); server.Stop() }()
	return server.Serve(listener)
}
