package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"text/tabwriter"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/wire"
)

type checkCmd struct {
	File string `arg:"" help:"A second or more of the player where he will play, as for analyze. - is standard input."`
	clipFlags
	Seconds float64 `default:"2" help:"How much of the file's beginning to look at."`
	Locale  string  `help:"Language of the advice (BCP 47); empty: as the file says."`
	JSON    bool    `name:"json" help:"Print the answer as JSON."`
}

// Run says what the placement in a file can measure, and what would mend it.
func (cmd *checkCmd) Run(ctx context.Context, c *console) error {
	if err := cmd.check(); err != nil {
		return err
	}
	if !(cmd.Seconds > 0) {
		return usage("--seconds must be above 0")
	}
	srv, err := newService()
	if err != nil {
		return err
	}
	raw, err := readFile(c, cmd.File)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	res, err := cmd.look(ctx, srv, raw)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	if cmd.JSON {
		raw, err := protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(res)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(c.out, "%s\n", raw)
		return err
	}
	return printCheck(c.out, cmd.File, res)
}

// look reads the file's setup and first frames and has them checked.
func (cmd *checkCmd) look(ctx context.Context, srv *service.Server, raw []byte) (*pb.CheckSetupResponse, error) {
	clip, err := cmd.clip(cmd.File, raw)
	if err != nil {
		return nil, err
	}
	frames, err := allFrames(clip)
	if err != nil {
		return nil, err
	}
	if len(frames) == 0 {
		return nil, errors.New("holds no frames")
	}
	if clip.Setup != nil && cmd.Locale != "" {
		clip.Setup.Locale = cmd.Locale
	}
	return srv.CheckSetup(ctx, &pb.CheckSetupRequest{Setup: clip.Setup, Frames: beginning(frames, cmd.Seconds)})
}

// allFrames returns a clip's frames, those of its blocks unpacked.
func allFrames(clip *pb.AnalyzeClipRequest) ([]*pb.Frame, error) {
	frames := clip.Frames
	for i, b := range clip.Blocks {
		more, err := wire.Unblock(b, fmt.Sprintf("blocks[%d]", i))
		if err != nil {
			return nil, err
		}
		frames = append(frames, more...)
	}
	return frames, nil
}

// mostLooked is how many frames the service looks at.
const mostLooked = 4096

// beginning returns the frames of the first seconds of each camera's own clock.
func beginning(frames []*pb.Frame, seconds float64) []*pb.Frame {
	first := map[uint32]int64{}
	var out []*pb.Frame
	for _, f := range frames {
		from, ok := first[f.GetCamera()]
		if !ok {
			from = f.GetTimeUs()
			first[f.GetCamera()] = from
		}
		if float64(f.GetTimeUs()-from) <= seconds*1e6 && len(out) < mostLooked {
			out = append(out, f)
		}
	}
	return out
}

// printCheck prints an outlook for a person to read.
func printCheck(w io.Writer, name string, res *pb.CheckSetupResponse) error {
	out := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	c := res.Capture
	fmt.Fprintf(out, "%s: seen from %s, method %s, %.1f frames a second, clock × %.3g\n", name,
		spaced(c.GetViewpoint().String(), "VIEWPOINT_"), spaced(c.GetMethod(), ""), c.GetFrameRateHz(), c.GetSlowMotionFactor())
	for _, p := range res.Poses {
		x := p.PositionM
		fmt.Fprintf(out, "camera %d: %.2f m along the court, %.2f m high, %.2f m to the right; focal length %.0f px; fits to %.1f px\n",
			p.Camera, x[0], x[1], x[2], p.FocalPx, p.ReprojectionRmsPx)
	}
	grades := map[pb.Grade]int{}
	fmt.Fprintf(out, "\n  figure\t±\tunit\tgrade\t\n")
	for _, m := range res.Expected {
		sd := "–"
		if m.Sd != nil {
			sd = fmt.Sprintf("%.*f", decimals(m.GetSd()), m.GetSd())
		}
		grades[m.Grade]++
		fmt.Fprintf(out, "  %s\t%s\t%s\t%s\t%s\n", m.Name, sd, m.Unit, spaced(m.Grade.String(), "GRADE_"), m.Reason)
	}
	fmt.Fprintf(out, "\n%d good, %d rough, %d not measurable\n",
		grades[pb.Grade_GRADE_GOOD], grades[pb.Grade_GRADE_ROUGH], grades[pb.Grade_GRADE_NOT_MEASURABLE])
	for _, a := range res.Advice {
		fmt.Fprintf(out, "advice: %s %s\n", a.Text, a.Drill)
	}
	return out.Flush()
}
