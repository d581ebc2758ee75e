package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
)

type adviseCmd struct {
	File   string `arg:"" help:"An AdviseFeedRequest as JSON: the last swings, the machine's limits, the newest frames. - is standard input."`
	Locale string `help:"Language of the advice (BCP 47); empty: as the file says."`
	JSON   bool   `name:"json" help:"Print the answer as JSON."`
}

// Run asks what a ball machine should do next. Hold and stop are answers like
// any other: the exit status is 0.
func (cmd *adviseCmd) Run(ctx context.Context, c *console) error {
	srv, err := newService()
	if err != nil {
		return err
	}
	res, err := cmd.ask(ctx, c, srv)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	if cmd.JSON {
		return printMessage(c.out, res)
	}
	return printAdvice(c.out, res)
}

func (cmd *adviseCmd) ask(ctx context.Context, c *console, srv *service.Server) (*pb.AdviseFeedResponse, error) {
	raw, err := readFile(c, cmd.File)
	if err != nil {
		return nil, err
	}
	req := &pb.AdviseFeedRequest{}
	if err := protojson.Unmarshal(raw, req); err != nil {
		return nil, readable(err)
	}
	if cmd.Locale != "" {
		req.Locale = cmd.Locale
	}
	return srv.AdviseFeed(ctx, req)
}

// sideways tells where the ball bounces, seen from the player.
func sideways(m float64) string {
	switch {
	case m > 0.05:
		return fmt.Sprintf("%.1f m to the player's right", m)
	case m < -0.05:
		return fmt.Sprintf("%.1f m to the player's left", -m)
	}
	return "straight to the player"
}

// spin tells the ball's spin, turns a second.
func spin(rps float64) string {
	switch {
	case rps >= 0.5:
		return fmt.Sprintf("%.0f turns a second of topspin", rps)
	case rps <= -0.5:
		return fmt.Sprintf("%.0f turns a second of backspin", -rps)
	}
	return "no spin"
}

// printAdvice prints an advice for a person to read. Its cautions are part of it.
func printAdvice(w io.Writer, res *pb.AdviseFeedResponse) error {
	var out strings.Builder
	fmt.Fprintf(&out, "%s: %s\n", spaced(res.Action.String(), "FEED_ACTION_"), res.Reason)
	if b := res.Next; b != nil {
		fmt.Fprintf(&out, "next ball: %.1f m/s, %s, %.1f m in front of the baseline, %.1f m over the net, %s, then %.1f s\n",
			b.SpeedMps, sideways(b.LateralM), b.DepthM, b.HeightM, spin(b.TopspinRps), b.Interval.AsDuration().Seconds())
	}
	if res.RetryAfter != nil {
		fmt.Fprintf(&out, "ask again after %.1f s\n", res.RetryAfter.AsDuration().Seconds())
	}
	if q := res.Cue; q != nil {
		fmt.Fprintf(&out, "say: %s %s\n", q.Text, q.Drill)
	}
	for _, q := range res.Cautions {
		fmt.Fprintf(&out, "caution: %s\n", strings.TrimSpace(q.Text+" "+q.Drill))
	}
	_, err := io.WriteString(w, out.String())
	return err
}
