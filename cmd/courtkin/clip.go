package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"regexp"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// clipFlags say how a file is to be read and what is known besides.
type clipFlags struct {
	Format  string  `enum:"auto,json,ndjson,proto,csv" default:"auto" help:"Format of the files: auto, json, ndjson, proto or csv."`
	Hand    string  `enum:"file,right,left" default:"file" help:"Dominant hand: right or left; file: as the file says."`
	Stature float64 `help:"Standing height in metres; 0: as the file says."`
	Stroke  string  `default:"file" help:"Expected stroke, such as serve or two_handed_backhand; file: as the file says."`
	Trace   bool    `help:"Return curves (for --json)."`
	csvFlags
}

// check refuses flags that cannot be meant.
func (f *clipFlags) check() error {
	if f.Stroke != "file" {
		if _, ok := pb.Stroke_value[strokeEnum(f.Stroke)]; !ok {
			return usage("--stroke %s: not a stroke", f.Stroke)
		}
	}
	return f.csvFlags.check()
}

func strokeEnum(name string) string {
	return "STROKE_" + strings.ToUpper(strings.NewReplacer("-", "_", " ", "_").Replace(name))
}

// clip reads a file's bytes as a request.
func (f *clipFlags) clip(name string, raw []byte) (*pb.AnalyzeClipRequest, error) {
	req, err := f.parse(f.formatOf(name, raw), raw)
	if err != nil {
		return nil, err
	}
	f.override(req)
	return req, nil
}

func (f *clipFlags) parse(format string, raw []byte) (*pb.AnalyzeClipRequest, error) {
	switch format {
	case "csv":
		return f.parseCSV(raw)
	case "proto":
		return parseProto(raw)
	case "ndjson":
		return parseLines(raw)
	}
	return parseJSON(raw)
}

// override puts what the flags say over what the file says.
func (f *clipFlags) override(req *pb.AnalyzeClipRequest) {
	if req.Setup == nil {
		return // refused by the service, with the field's name
	}
	if req.Setup.Player == nil {
		req.Setup.Player = &pb.Player{}
	}
	switch f.Hand {
	case "right":
		req.Setup.Player.DominantHand = pb.Hand_HAND_RIGHT
	case "left":
		req.Setup.Player.DominantHand = pb.Hand_HAND_LEFT
	}
	if f.Stature != 0 {
		req.Setup.Player.StatureM = f.Stature
	}
	if f.Stroke != "file" {
		req.Setup.ExpectedStroke = pb.Stroke(pb.Stroke_value[strokeEnum(f.Stroke)])
	}
	req.Setup.WithTrace = req.Setup.WithTrace || f.Trace
}

// formatOf tells the format from the flag, the name, or the first bytes.
func (f *clipFlags) formatOf(name string, raw []byte) string {
	if f.Format != "auto" {
		return f.Format
	}
	switch strings.ToLower(filepath.Ext(name)) {
	case ".csv":
		return "csv"
	case ".ndjson", ".jsonl":
		return "ndjson"
	case ".pb", ".binpb", ".bin":
		return "proto"
	}
	return sniff(raw)
}

// sniff tells JSON from lines of JSON by whether anything follows the first
// value, CSV by a first line of printable names with a comma.
func sniff(raw []byte) string {
	text := bytes.TrimSpace(raw)
	if len(text) > 0 && text[0] == '{' {
		dec := json.NewDecoder(bytes.NewReader(text))
		var first json.RawMessage
		if dec.Decode(&first) == nil && int(dec.InputOffset()) < len(text) {
			return "ndjson"
		}
		return "json"
	}
	if csvHead.Match(text) {
		return "csv"
	}
	return "proto"
}

var csvHead = regexp.MustCompile(`^(?:\x{FEFF})?[A-Za-z_][\w. -]*(?:,[\w. -]+)+\r?\n`)

func parseProto(raw []byte) (*pb.AnalyzeClipRequest, error) {
	req := &pb.AnalyzeClipRequest{}
	if proto.Unmarshal(raw, req) != nil {
		return nil, errors.New("is no AnalyzeClipRequest in binary protobuf (truncated?)")
	}
	return req, nil
}

func parseJSON(raw []byte) (*pb.AnalyzeClipRequest, error) {
	req := &pb.AnalyzeClipRequest{}
	if err := protojson.Unmarshal(raw, req); err != nil {
		return nil, readable(err)
	}
	return req, nil
}

// readable takes protojson's package name and no-break blanks out of its errors.
func readable(err error) error {
	said := strings.ReplaceAll(err.Error(), "\u00a0", " ")
	return errors.New(strings.TrimSpace(strings.TrimPrefix(said, "proto:")))
}

// parseLines reads newline-delimited JSON: a setup on the first line (bare, or
// as {"setup": …}), a frame on each next. A recorded stream of
// StreamPracticeRequests is read too.
func parseLines(raw []byte) (*pb.AnalyzeClipRequest, error) {
	req := &pb.AnalyzeClipRequest{}
	number := 0
	for line := range bytes.Lines(raw) {
		number++
		if line = bytes.TrimSpace(line); len(line) == 0 {
			continue
		}
		if err := parseLine(line, req); err != nil {
			return nil, fmt.Errorf("line %d: %w", number, readable(err))
		}
	}
	if req.Setup == nil {
		return nil, io.ErrUnexpectedEOF
	}
	return req, nil
}

var firstKey = regexp.MustCompile(`^\{\s*"(\w+)"`)

func parseLine(line []byte, req *pb.AnalyzeClipRequest) error {
	key := ""
	if m := firstKey.FindSubmatch(line); m != nil {
		key = string(m[1])
	}
	switch {
	case key == "open" || key == "frames" || key == "feed" || key == "finish":
		return parseMessage(line, req)
	case req.Setup != nil:
		f := &pb.Frame{}
		req.Frames = append(req.Frames, f)
		return protojson.Unmarshal(line, f)
	case key == "setup":
		return protojson.Unmarshal(line, req)
	}
	req.Setup = &pb.Setup{}
	return protojson.Unmarshal(line, req.Setup)
}

// parseMessage reads a line of a recorded stream.
func parseMessage(line []byte, req *pb.AnalyzeClipRequest) error {
	m := &pb.StreamPracticeRequest{}
	if err := protojson.Unmarshal(line, m); err != nil {
		return err
	}
	if open := m.GetOpen(); open != nil {
		req.Setup = open.GetSetup()
	}
	req.Frames = append(req.Frames, m.GetFrames().GetFrames()...)
	req.Blocks = append(req.Blocks, m.GetFrames().GetBlocks()...)
	return nil
}
