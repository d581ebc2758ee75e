package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
)

type summarizeCmd struct {
	Paths []string `arg:"" name:"path" help:"In the order played: clips, as for analyze; answers of analyze --json, of batch, or of stream --json; folders of either, read in the order of names."`
	clipFlags
	Baseline string `type:"path" help:"An earlier summary (--json), to tell what has changed since."`
	Level    string `enum:"unknown,beginner,intermediate,advanced,elite" default:"unknown" help:"Level of play: beginner, intermediate, advanced or elite."`
	Junior   bool   `help:"The player is under 18: cautions about volume follow."`
	Locale   string `help:"Language of the sentences (BCP 47); empty: en."`
	JSON     bool   `name:"json" help:"Print the answer as JSON."`
	All      bool   `help:"Print every figure, not the headline ones alone."`
}

// Run looks over the swings of many files. A file that cannot be read is
// reported, and the others are looked over all the same.
func (cmd *summarizeCmd) Run(ctx context.Context, c *console) error {
	if err := cmd.check(); err != nil {
		return err
	}
	srv, err := newService()
	if err != nil {
		return err
	}
	req := &pb.SummarizePracticeRequest{Player: cmd.player(), Locale: cmd.Locale}
	if req.Baseline, err = cmd.baseline(c); err != nil {
		return fmt.Errorf("%s: %w", cmd.Baseline, err)
	}
	from, failed := cmd.gather(ctx, c, srv, req)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	if len(req.Swings) == 0 {
		return errors.Join(failed, errors.New("no swings to look over"))
	}
	res, err := srv.SummarizePractice(ctx, req)
	if err != nil {
		return err
	}
	if cmd.JSON {
		return errors.Join(printMessage(c.out, res), failed)
	}
	return errors.Join(printSummary(c.out, res, from, cmd.All), failed)
}

// player is what the flags say of the player.
func (cmd *summarizeCmd) player() *pb.Player {
	p := &pb.Player{StatureM: cmd.Stature, Junior: cmd.Junior}
	p.Level = pb.Level(pb.Level_value["LEVEL_"+strings.ToUpper(cmd.Level)])
	p.DominantHand = pb.Hand(pb.Hand_value["HAND_"+strings.ToUpper(cmd.Hand)])
	return p
}

func (cmd *summarizeCmd) baseline(c *console) ([]*pb.PracticeFigure, error) {
	if cmd.Baseline == "" {
		return nil, nil
	}
	raw, err := readFile(c, cmd.Baseline)
	if err != nil {
		return nil, err
	}
	earlier := &pb.SummarizePracticeResponse{}
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(raw, earlier); err != nil {
		return nil, readable(err)
	}
	return earlier.Figures, nil
}

// gather adds every file's swings to the request, without their curves, and
// tells where each came from. failed is set when a file could not be read.
func (cmd *summarizeCmd) gather(ctx context.Context, c *console, srv *service.Server, req *pb.SummarizePracticeRequest) (from map[string]string, failed error) {
	from = map[string]string{}
	names, failed := filesOf(c, cmd.Paths)
	for _, name := range names {
		swings, err := cmd.swings(ctx, c, srv, name)
		if ctx.Err() != nil {
			return from, failed
		}
		if err != nil {
			failed = complain(c, name, err)
		}
		for i, s := range swings {
			s.Trace = nil
			from[s.Id] = fmt.Sprintf("%s, swing %d", name, i+1)
		}
		req.Swings = append(req.Swings, swings...)
	}
	return from, failed
}

// filesOf lists the files that paths mean, folders opened, in order.
func filesOf(c *console, paths []string) (names []string, failed error) {
	for _, path := range paths {
		if info, err := os.Stat(path); path == "-" || err != nil || !info.IsDir() {
			names = append(names, path)
			continue
		}
		clips, err := clipsBelow([]string{path}, "")
		if err == nil && len(clips) == 0 {
			err = errors.New("holds no clips and no answers")
		}
		if err != nil {
			failed = complain(c, path, err)
		}
		for _, r := range clips {
			names = append(names, r.path)
		}
	}
	return names, failed
}

// complain reports what is wrong with one of several files.
func complain(c *console, name string, err error) error {
	fmt.Fprintln(c.err, "courtkin: "+oneLine(name+": "+err.Error()))
	return errReported
}

// swings reads the answers in a file, or analyses the clip in it.
func (cmd *summarizeCmd) swings(ctx context.Context, c *console, srv *service.Server, name string) ([]*pb.Swing, error) {
	raw, err := readFile(c, name)
	if err != nil {
		return nil, err
	}
	if isAnswer(raw) {
		return answered(raw)
	}
	req, err := cmd.clip(name, raw)
	if err != nil {
		return nil, err
	}
	bar := newProgress(c.err, name, len(req.Frames))
	defer bar.end()
	res, err := srv.Analyze(ctx, req, bar.at)
	return res.GetSwings(), err
}

// answerKeys are the keys of what the service answers; no clip has them on top.
var answerKeys = []string{"swings", "opened", "ack", "event", "reading", "swing", "warning", "warnings"}

// isAnswer tells answers from clips by the first key of the first line.
func isAnswer(raw []byte) bool {
	dec := json.NewDecoder(bytes.NewReader(raw))
	if open, err := dec.Token(); err != nil || open != json.Delim('{') {
		return false
	}
	key, err := dec.Token()
	name, is := key.(string)
	return err == nil && is && slices.Contains(answerKeys, name)
}

// answered returns the swings of answers: AnalyzeClipResponses, or the lines
// that a stream answered, which besides hold one swing each.
func answered(raw []byte) (swings []*pb.Swing, err error) {
	dec := json.NewDecoder(bytes.NewReader(raw))
	lenient := protojson.UnmarshalOptions{DiscardUnknown: true}
	for {
		var next json.RawMessage
		if err := dec.Decode(&next); err == io.EOF {
			return swings, nil
		} else if err != nil {
			return nil, err
		}
		clip, line := &pb.AnalyzeClipResponse{}, &pb.StreamPracticeResponse{}
		if err := lenient.Unmarshal(next, clip); err != nil {
			return nil, readable(err)
		}
		if err := lenient.Unmarshal(next, line); err != nil {
			return nil, readable(err)
		}
		swings = append(swings, clip.Swings...)
		if s := line.GetSwing(); s != nil {
			swings = append(swings, s)
		}
	}
}

// printMessage prints an answer as one line of JSON.
func printMessage(w io.Writer, m proto.Message) error {
	raw, err := protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(m)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s\n", raw)
	return err
}

// printSummary prints a summary for a person to read. from tells where a swing
// is to be found.
func printSummary(w io.Writer, res *pb.SummarizePracticeResponse, from map[string]string, all bool) error {
	out := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(out, res.Summary)
	fmt.Fprintf(out, "typical: %s\nbest: %s\n", from[res.TypicalSwingId], from[res.BestSwingId])
	for _, n := range res.Counts {
		fmt.Fprintf(out, "\n%s, %s\n", spaced(n.Stroke.String(), "STROKE_"), counted(int(n.Count), "swing"))
		fmt.Fprintf(out, "  figure\tswings\tmedian\tspread\tunit\ttrend a swing\tp\tleast real change\tchange\n")
		for _, f := range res.Figures {
			if f.Stroke == n.Stroke && (all || slices.Contains(headline, f.Measure)) {
				printPracticeFigure(out, f)
			}
		}
	}
	if f := res.Focus; f != nil {
		fmt.Fprintf(out, "\nfocus: %s %s\n", f.Text, f.Drill)
	}
	for _, q := range res.Cautions {
		fmt.Fprintf(out, "caution: %s %s\n", q.Text, q.Drill)
	}
	return out.Flush()
}

// fewestForTrend is how many values the service wants before it tells a trend.
const fewestForTrend = 4

// printPracticeFigure prints a figure to two digits of the change that counts,
// and a dash for what too few swings cannot tell.
func printPracticeFigure(w io.Writer, f *pb.PracticeFigure) {
	d := decimals(f.SmallestRealChange)
	spread, trend, p, change := "–", "–", "–", ""
	if f.Count > 1 {
		spread = fmt.Sprintf("%.*f", d, f.Spread)
	}
	if f.Count >= fewestForTrend {
		trend, p = fmt.Sprintf("%+.*f", min(4, d+1), f.TrendPerSwing), fmt.Sprintf("%.2f", f.TrendP)
	}
	if f.ChangeFromBaseline != nil {
		change = fmt.Sprintf("%+.*f %s", d, f.GetChangeFromBaseline(), spaced(f.ChangeVerdict.String(), "VERDICT_"))
	}
	fmt.Fprintf(w, "  %s\t%d\t%.*f\t%s\t%s\t%s\t%s\t%.*f\t%s\n", f.Measure, f.Count, d, f.Median, spread, f.Unit,
		trend, p, d, f.SmallestRealChange, change)
}
