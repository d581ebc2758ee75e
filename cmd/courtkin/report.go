package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service"
	"example.com/courtkin/service/draw"
)

type reportCmd struct {
	File string `arg:"" help:"Clip, as for analyze."`
	clipFlags
	Out   string `short:"o" default:"-" type:"path" help:"Where to write; - is standard output."`
	Plot  string `placeholder:"SERIES" help:"Write one curve as an SVG picture instead, such as racket_speed.tip or lag.angle."`
	Swing int    `default:"1" help:"With --plot: of which swing, counted from 1."`
}

// Run writes a clip's findings as one self-contained page, or one curve as a picture.
func (cmd *reportCmd) Run(ctx context.Context, c *console) error {
	if err := cmd.check(); err != nil {
		return err
	}
	srv, err := newService()
	if err != nil {
		return err
	}
	_, res, err := analyzeFile(ctx, c, srv, &cmd.clipFlags, cmd.File)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	var page bytes.Buffer
	if cmd.Plot != "" {
		s, err := swingNumber(res, cmd.Swing, cmd.File)
		if err != nil {
			return err
		}
		if err := draw.Plot(&page, s, cmd.Plot); err != nil {
			return fmt.Errorf("--plot: %w", err)
		}
		return writeOut(c, cmd.Out, page.Bytes())
	}
	report := draw.Report{Title: filepath.Base(cmd.File), Clip: res, Titles: measureTitles(ctx, srv)}
	if err := report.Write(&page); err != nil {
		return err
	}
	return writeOut(c, cmd.Out, page.Bytes())
}

// analyzeFile reads and analyses one file, with curves. The setup is the one
// that the file and the flags tell.
func analyzeFile(ctx context.Context, c *console, srv *service.Server, f *clipFlags, name string) (*pb.Setup, *pb.AnalyzeClipResponse, error) {
	raw, err := readFile(c, name)
	if err != nil {
		return nil, nil, err
	}
	req, err := f.clip(name, raw)
	if err != nil {
		return nil, nil, err
	}
	if req.Setup != nil {
		req.Setup.WithTrace = true
	}
	bar := newProgress(c.err, name, len(req.Frames))
	defer bar.end()
	res, err := srv.Analyze(ctx, req, bar.at)
	return req.Setup, res, err
}

// swingNumber returns the n-th swing of a clip.
func swingNumber(res *pb.AnalyzeClipResponse, n int, name string) (*pb.Swing, error) {
	if n < 1 || n > len(res.Swings) {
		return nil, fmt.Errorf("%s: no swing %d: %s found", name, n, counted(len(res.Swings), "swing"))
	}
	return res.Swings[n-1], nil
}

// measureTitles are what to call the measures.
func measureTitles(ctx context.Context, srv *service.Server) map[string]string {
	titles := map[string]string{}
	if res, err := srv.GetCatalog(ctx, &pb.GetCatalogRequest{}); err == nil {
		for _, m := range res.Measures {
			titles[m.Name] = m.Title
		}
	}
	return titles
}

// writeOut writes a file, or to standard output.
func writeOut(c *console, name string, raw []byte) error {
	if name == "-" || filepath.Base(name) == "-" {
		_, err := c.out.Write(raw)
		return err
	}
	if err := os.WriteFile(name, raw, 0o644); err != nil {
		return fmt.Errorf("%s: %w", name, plain(err))
	}
	return nil
}
