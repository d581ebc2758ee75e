package main

import (
	"context"
	"fmt"
	"text/tabwriter"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/client"
	"example.com/courtkin/service/wire"
)

type streamCmd struct {
	File string `arg:"" help:"Clip, in any format that analyze reads; - is standard input."`
	clipFlags
	callFlags
	To      []string `default:"127.0.0.1:9090" help:"Addresses of the service's replicas; the next is tried when one fails."`
	Speed   float64  `default:"1" help:"Clip seconds a second: 1 is true speed, 0 as fast as the service takes them."`
	Batch   int      `default:"8" help:"Most frames in a message, 1 to 32."`
	Compact bool     `help:"Send compact blocks: a third of the bytes."`
	JSON    bool     `name:"json" help:"Print every answer as a line of JSON."`
}

// Run streams a clip as if it were played now and prints findings as they come.
func (cmd *streamCmd) Run(ctx context.Context, c *console) error {
	if err := cmd.check(); err != nil {
		return err
	}
	if cmd.Speed < 0 || cmd.Batch < 1 || cmd.Batch > 32 {
		return usage("--speed must not be negative, --batch must be 1 to 32")
	}
	dial, err := cmd.options(cmd.To...)
	if err != nil {
		return err
	}
	raw, err := readFile(c, cmd.File)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	req, err := cmd.clip(cmd.File, raw)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	if err := unblock(req); err != nil {
		return err
	}
	return cmd.play(ctx, c, dial, req)
}

// unblock turns a request's blocks into frames.
func unblock(req *pb.AnalyzeClipRequest) error {
	for i, b := range req.Blocks {
		frames, err := wire.Unblock(b, fmt.Sprintf("blocks[%d]", i))
		if err != nil {
			return err
		}
		req.Frames = append(req.Frames, frames...)
	}
	req.Blocks = nil
	return nil
}

func (cmd *streamCmd) play(ctx context.Context, c *console, dial []grpc.DialOption, req *pb.AnalyzeClipRequest) error {
	show := &teller{console: c, json: cmd.JSON, start: firstTime(req)}
	p, err := client.Start(ctx, client.Config{
		Targets: cmd.To, Dial: dial,
		Open:   &pb.StreamPracticeRequest_Open{Setup: req.Setup, PracticeId: cmd.File},
		Handle: show.tell, Batch: cmd.Batch, Compact: cmd.Compact,
		Lost: func(err error) { fmt.Fprintln(c.err, "courtkin: broken, trying again: "+oneLine(err.Error())) },
	})
	if err != nil {
		return err
	}
	defer p.Close()
	begin := time.Now()
	for _, f := range req.Frames {
		if err := cmd.waitFor(ctx, begin, f.TimeUs-show.start); err != nil {
			return err
		}
		if err := p.Send(ctx, f); err != nil {
			return p.Finish(ctx)
		}
	}
	return p.Finish(ctx)
}

// waitFor waits until a frame's instant has come, at the chosen speed.
func (cmd *streamCmd) waitFor(ctx context.Context, begin time.Time, us int64) error {
	if cmd.Speed == 0 {
		return ctx.Err()
	}
	wait := time.Until(begin.Add(time.Duration(float64(us) / cmd.Speed * float64(time.Microsecond))))
	if wait <= 0 {
		return ctx.Err()
	}
	timer := time.NewTimer(wait)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// teller prints answers as they come.
type teller struct {
	*console
	json   bool
	start  int64
	swings int
}

func (t *teller) tell(m *pb.StreamPracticeResponse) {
	if t.json {
		if raw, err := (protojson.MarshalOptions{EmitDefaultValues: true}).Marshal(m); err == nil {
			fmt.Fprintf(t.out, "%s\n", raw)
		}
		return
	}
	switch m := m.Message.(type) {
	case *pb.StreamPracticeResponse_Event:
		fmt.Fprintf(t.out, "%9s s  %s, %s, ± %s s\n", seconds(m.Event.TimeUs-t.start),
			spaced(m.Event.Kind.String(), "EVENT_KIND_"), spaced(m.Event.Certainty.String(), "CERTAINTY_"), seconds(m.Event.SdUs))
	case *pb.StreamPracticeResponse_Warning:
		printWarnings(t.out, "", []*pb.Warning{m.Warning})
	case *pb.StreamPracticeResponse_Swing:
		t.swings++
		w := tabwriter.NewWriter(t.out, 0, 0, 2, ' ', 0)
		printSwing(w, t.swings, m.Swing, t.start, false)
		_ = w.Flush()
	}
}
