package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"path/filepath"
	"text/tabwriter"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/draw"
)

type compareCmd struct {
	Reference string `arg:"" help:"Clip that is compared against, as for analyze."`
	Candidate string `arg:"" help:"Clip that is compared; may be the same file."`
	clipFlags
	ReferenceSwing int    `default:"1" help:"Which swing of the reference, counted from 1."`
	CandidateSwing int    `default:"1" help:"Which swing of the other, counted from 1."`
	Out            string `short:"o" type:"path" help:"Write one self-contained page with pictures there."`
	Locale         string `help:"Language of the sentences (BCP 47); empty: en."`
	JSON           bool   `name:"json" help:"Print the answer as JSON."`
}

// Run sets two swings against one another.
func (cmd *compareCmd) Run(ctx context.Context, c *console) error {
	if err := cmd.check(); err != nil {
		return err
	}
	srv, err := newService()
	if err != nil {
		return err
	}
	p := draw.Pair{Titles: measureTitles(ctx, srv)}
	req := &pb.CompareSwingsRequest{Locale: cmd.Locale}
	if p.Reference, req.ReferencePlayer, err = cmd.swing(ctx, c, srv, cmd.Reference, cmd.ReferenceSwing); err != nil {
		return err
	}
	if p.Candidate, req.CandidatePlayer, err = cmd.swing(ctx, c, srv, cmd.Candidate, cmd.CandidateSwing); err != nil {
		return err
	}
	req.Reference, req.Candidate = p.Reference, p.Candidate
	p.Result, err = srv.CompareSwings(ctx, req)
	if err != nil {
		return err
	}
	switch {
	case cmd.Out != "":
		return cmd.page(c, &p)
	case cmd.JSON:
		raw, err := protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(p.Result)
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(c.out, "%s\n", raw)
		return err
	}
	return printComparison(c.out, p.Result)
}

func (cmd *compareCmd) swing(ctx context.Context, c *console, srv *service.Server, name string, n int) (*pb.Swing, *pb.Player, error) {
	setup, res, err := analyzeFile(ctx, c, srv, &cmd.clipFlags, name)
	if err != nil {
		return nil, nil, fmt.Errorf("%s: %w", name, err)
	}
	s, err := swingNumber(res, n, name)
	return s, setup.GetPlayer(), err
}

func (cmd *compareCmd) page(c *console, p *draw.Pair) error {
	p.Names = [2]string{
		fmt.Sprintf("%s, swing %d", filepath.Base(cmd.Reference), cmd.ReferenceSwing),
		fmt.Sprintf("%s, swing %d", filepath.Base(cmd.Candidate), cmd.CandidateSwing),
	}
	p.Title = "Two swings compared"
	var page bytes.Buffer
	if err := p.Write(&page); err != nil {
		return err
	}
	return writeOut(c, cmd.Out, page.Bytes())
}

// printComparison prints what is the same, what differs and what cannot be told: in
// three columns at a glance, then what there is to say of each.
func printComparison(w io.Writer, res *pb.CompareSwingsResponse) error {
	out := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(out, res.Summary)
	printWarnings(out, "", res.Warnings)
	fmt.Fprintln(out)
	printColumns(out, res.Differences)
	for _, v := range []pb.Verdict{pb.Verdict_VERDICT_DIFFERENT, pb.Verdict_VERDICT_SAME, pb.Verdict_VERDICT_CANNOT_TELL} {
		fmt.Fprintf(out, "\n%s\tdifference\tsd\tunit\n", spaced(v.String(), "VERDICT_"))
		none := true
		for _, d := range res.Differences {
			if d.Verdict == v {
				printDifference(out, d)
				none = false
			}
		}
		if none {
			fmt.Fprintln(out, "  nothing")
		}
	}
	return out.Flush()
}

// printColumns prints the measures by verdict side by side, heaviest first.
func printColumns(w io.Writer, differences []*pb.Difference) {
	columns := [3][]string{{"same"}, {"different"}, {"cannot tell"}}
	for _, d := range differences {
		switch d.Verdict {
		case pb.Verdict_VERDICT_SAME:
			columns[0] = append(columns[0], d.Measure)
		case pb.Verdict_VERDICT_DIFFERENT:
			columns[1] = append(columns[1], fmt.Sprintf("%s %+.*f %s", d.Measure, decimals(d.GetSd()), d.GetDifference(), d.Unit))
		case pb.Verdict_VERDICT_CANNOT_TELL:
			columns[2] = append(columns[2], d.Measure)
		}
	}
	for i := range max(len(columns[0]), len(columns[1]), len(columns[2])) {
		var cells [3]string
		for k, c := range columns {
			if i < len(c) {
				cells[k] = c[i]
			}
		}
		fmt.Fprintf(w, "%s\t%s\t%s\n", cells[0], cells[1], cells[2])
	}
}

func printDifference(w io.Writer, d *pb.Difference) {
	size, sd := "–", ""
	if d.Difference != nil {
		n := decimals(d.GetSd())
		size, sd = fmt.Sprintf("%+.*f", n, d.GetDifference()), fmt.Sprintf("± %.*f", n, d.GetSd())
	}
	text := d.Text
	if d.Verdict == pb.Verdict_VERDICT_CANNOT_TELL {
		text = d.Reason
	}
	fmt.Fprintf(w, "  %s\t%s\t%s\t%s\t%s\n", d.Measure, size, sd, d.Unit, text)
}
