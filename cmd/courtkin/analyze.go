package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"google.golang.org/protobuf/encoding/protojson"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
)

type analyzeCmd struct {
	Files []string `arg:"" name:"file" help:"Clips: the request as JSON or binary protobuf, newline-delimited JSON (setup, then a frame a line), or CSV of named 3-D points. - is standard input."`
	clipFlags
	JSON bool `name:"json" help:"Print one JSON answer a line for each file."`
	All  bool `help:"Print every figure, not the headline ones alone."`
}

// Run analyses each file and prints what was found. A file that cannot be
// analysed is reported, and the others go on.
func (cmd *analyzeCmd) Run(ctx context.Context, c *console) error {
	srv, err := newService()
	if err != nil {
		return err
	}
	if err := cmd.check(); err != nil {
		return err
	}
	var failed error
	for i, name := range cmd.Files {
		if i > 0 && !cmd.JSON {
			fmt.Fprintln(c.out)
		}
		if err := cmd.one(ctx, c, srv, name); err != nil {
			fmt.Fprintln(c.err, "courtkin: "+oneLine(name+": "+err.Error()))
			failed = errReported
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
	}
	return failed
}

// one analyses one file.
func (cmd *analyzeCmd) one(ctx context.Context, c *console, srv *service.Server, name string) error {
	raw, err := readFile(c, name)
	if err != nil {
		return err
	}
	req, err := cmd.clip(name, raw)
	if err != nil {
		return err
	}
	bar := newProgress(c.err, name, len(req.Frames))
	res, err := srv.Analyze(ctx, req, bar.at)
	bar.end()
	if err != nil {
		return err
	}
	if cmd.JSON {
		return printJSON(c.out, res)
	}
	return printClip(c.out, name, req, res, cmd.All)
}

// maxFile bounds what is read: larger than any clip that passes the service.
const maxFile = 1 << 30

func readFile(c *console, name string) ([]byte, error) {
	in := c.in
	if name != "-" {
		f, err := os.Open(name)
		if err != nil {
			return nil, plain(err)
		}
		defer f.Close()
		in = f
	}
	raw, err := io.ReadAll(io.LimitReader(in, maxFile+1))
	if err != nil {
		return nil, plain(err)
	}
	if len(raw) > maxFile {
		return nil, fmt.Errorf("is larger than %d bytes", maxFile)
	}
	return raw, nil
}

// plain leaves out of a path error what the caller says anyway.
func plain(err error) error {
	var p *os.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}

func printJSON(w io.Writer, res *pb.AnalyzeClipResponse) error {
	raw, err := protojson.MarshalOptions{EmitDefaultValues: true}.Marshal(res)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(w, "%s\n", raw)
	return err
}
