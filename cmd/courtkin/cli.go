package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/alecthomas/kong"
)

// commands are the subcommands, each in a file of its own: a struct of flags
// with Run(context.Context, *console) error.
type commands struct {
	Serve     serveCmd     `cmd:"" help:"Serve gRPC and HTTP in one process."`
	Service   serviceCmd   `cmd:"" help:"Serve gRPC alone."`
	Gateway   gatewayCmd   `cmd:"" help:"Serve HTTP alone, for a service elsewhere."`
	Analyze   analyzeCmd   `cmd:"" help:"Analyse recorded clips."`
	Compare   compareCmd   `cmd:"" help:"Set two swings against one another: same, different, cannot tell."`
	Summarize summarizeCmd `cmd:"" help:"Look over many swings: level, spread, trend, what to work on next."`
	Advise    adviseCmd    `cmd:"" help:"Advise a ball machine: feed, hold or stop, and which ball next."`
	Report    reportCmd    `cmd:"" help:"Write a clip's findings as one page with pictures."`
	Stream    streamCmd    `cmd:"" help:"Stream a clip to the service as live practice."`
	Check     checkCmd     `cmd:"" help:"Say what the camera's placement will measure, and what would help."`
	Catalog   catalogCmd   `cmd:"" help:"List every measure, event and cue with its definition."`
	Demo      demoCmd      `cmd:"" help:"Make a practice and analyse it."`
	Accuracy  accuracyCmd  `cmd:"" help:"Measure accuracy on made swings, beside what is promised."`
	Key       keyCmd       `cmd:"" help:"Make an API key."`
	Batch     batchCmd     `cmd:"" help:"Analyse folders of clips, going on where a run before stopped."`
	Load      loadCmd      `cmd:"" help:"Play made practices against a server and tell what that took."`
	Echo      echoCmd      `cmd:"" hidden:"" help:"Acknowledge frames and do nothing else; for load."`
	Version   versionCmd   `cmd:"" help:"Print the version."`
}

// console is where a command reads and writes.
type console struct {
	in       io.Reader
	out, err io.Writer
}

// Exit statuses.
const (
	exitFailure = 1 // the work failed
	exitUsage   = 2 // the command line was wrong
)

// usageError is a command line that cannot be meant.
type usageError struct{ error }

func usage(format string, args ...any) error { return usageError{fmt.Errorf(format, args...)} }

// run is the program: it parses args, runs one command and returns the exit status.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) (status int) {
	type exit int
	defer func() {
		switch p := recover().(type) {
		case nil:
		case exit: // kong has printed help
			status = int(p)
		default:
			panic(p)
		}
	}()
	parser, err := kong.New(&commands{},
		kong.Name("courtkin"),
		kong.Description("Measures tennis strokes from body, racket and ball points."),
		kong.UsageOnError(),
		kong.Writers(stdout, stderr),
		kong.Exit(func(code int) { panic(exit(code)) }),
		kong.BindTo(ctx, (*context.Context)(nil)),
		kong.Bind(&console{stdin, stdout, stderr}),
	)
	if err != nil {
		return report(stderr, err)
	}
	parsed, err := parser.Parse(args)
	if err != nil {
		return report(stderr, usageError{fmt.Errorf("%w (see courtkin --help)", err)})
	}
	return report(stderr, parsed.Run())
}

// report prints an error on one line and returns the exit status for it.
func report(stderr io.Writer, err error) int {
	var wrong usageError
	switch {
	case err == nil:
		return 0
	case errors.Is(err, errReported):
		return exitFailure
	}
	fmt.Fprintln(stderr, "courtkin: "+oneLine(err.Error()))
	if errors.As(err, &wrong) {
		return exitUsage
	}
	return exitFailure
}

// errReported is a failure that has been printed already.
var errReported = errors.New("reported")

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
