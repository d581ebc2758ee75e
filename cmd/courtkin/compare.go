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

// printComparison prints what is the same, what differs and what cannot be told.
func printComparison(w io.Writer, res *pb.CompareSwingsResponse) error {
	out := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(out, res.Summary)
	printWarnings(out, "", res.Warnings)
	for _, v := range []pb.Verdict{pb.Verdict_VERDICT_DIFFERENT, pb.Verdict_VERDICT_SAME, pb.Verdict_VERDICT_CANNOT_TELL} {
		fmt.Fprintf(out, "\n%s\n", spaced(v.String(), "VERDICT_"))
		for _, d := range res.Differences {
			if d.Verdict == v {
				printDifference(out, d)
			}
		}
	}
	return out.Flush()
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
