// Command rig shows how the controller of a ball machine uses the service. It
// streams what its camera sees, tells of every ball that it has fed, and asks
// between balls whether to feed, hold or stop, and which ball next. It drives no
// machine: it prints what it would do.
//
//	courtkin demo --out clip.ndjson
//	courtkin service &
//	go run ./deploy/examples/rig -service 127.0.0.1:9090 clip.ndjson
//
// A recorded clip stands for the camera: a setup on the first line, a frame on
// each next. The player in it does not see the balls that are printed.
//
// The advice is no safety interlock. A machine keeps its own: a beam, a gate, a
// person at the switch. What the service says may only hold a ball back, never
// let one go that they forbid.
package main

import (
	"bufio"
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	status := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// run is the program; it returns the exit status.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	flags := flag.NewFlagSet("rig", flag.ContinueOnError)
	flags.SetOutput(stderr)
	target := flags.String("service", "127.0.0.1:9090", "the service's gRPC `address`")
	speed := flags.Float64("speed", 1, "clip seconds a second; 0: as fast as the service takes them")
	switch err := flags.Parse(args); {
	case errors.Is(err, flag.ErrHelp):
		return 0
	case err != nil || flags.NArg() != 1 || *speed < 0:
		fmt.Fprintln(stderr, "usage: rig [-service ADDRESS] [-speed N] CLIP.ndjson")
		return 2
	}
	clip, err := read(flags.Arg(0))
	if err == nil {
		err = play(ctx, *target, *speed, clip, &printed{out: stdout})
	}
	if err != nil {
		fmt.Fprintln(stderr, "rig:", err)
		return 1
	}
	return 0
}

// longest is the longest line that is read, bytes.
const longest = 1 << 20

// read reads a setup and the frames after it.
func read(name string) (*pb.AnalyzeClipRequest, error) {
	f, err := os.Open(name) //nolint:gosec // G304: the clip that was named on the command line
	if err != nil {
		return nil, err
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, longest)
	clip := &pb.AnalyzeClipRequest{}
	for lines.Scan() {
		if clip.Setup == nil {
			clip.Setup = &pb.Setup{}
			err = protojson.Unmarshal(lines.Bytes(), clip.Setup)
		} else {
			next := &pb.Frame{}
			err = protojson.Unmarshal(lines.Bytes(), next)
			clip.Frames = append(clip.Frames, next)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	if len(clip.Frames) == 0 && lines.Err() == nil {
		return nil, fmt.Errorf("%s: holds no frames", name)
	}
	return clip, lines.Err()
}
