package service

import (
	"context"
	"fmt"
	"math"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

const (
	// clipChunk is after how many frames a clip looks whether its caller still
	// waits, and tells how far it is.
	clipChunk = 512

	// maxClipWarnings bounds the warnings of a clip; they repeat themselves.
	maxClipWarnings = 100
)

// AnalyzeClip runs a recorded clip through the machine that serves live practice.
func (s *Server) AnalyzeClip(ctx context.Context, req *pb.AnalyzeClipRequest) (*pb.AnalyzeClipResponse, error) {
	if err := s.clips.take(ctx); err != nil {
		return nil, statusError(err)
	}
	defer s.clips.free()
	res, err := s.Analyze(ctx, req, func(int) {})
	return res, statusError(err)
}

// Analyze is AnalyzeClip for callers in the same process; progress is told how
// many frames are done.
func (s *Server) Analyze(ctx context.Context, req *pb.AnalyzeClipRequest, progress func(done int)) (*pb.AnalyzeClipResponse, error) {
	total := frameCount(req.GetFrames(), req.GetBlocks())
	if err := exceeds("clip_frames", total, int64(s.config.Limits.ClipFrames), "frames in a clip"); err != nil {
		return nil, err
	}
	ses, err := s.open(ctx, clip, req.GetSetup(), swing.Clock{}, "setup")
	if err != nil {
		return nil, err
	}
	if total == 0 {
		return nil, wire.Problems{{Field: "frames", Description: "the clip is empty"}}
	}
	found := &clipFindings{session: ses, seen: map[measure.Warning]bool{}}
	for _, w := range ses.warnings {
		found.Warning(w)
	}
	if err := ses.clip(ctx, req, found, progress); err != nil {
		return nil, err
	}
	ses.finish(found)
	found.release(math.MaxInt)
	if err := ctx.Err(); err != nil { // what was out has not come back
		return nil, err
	}
	return &found.res, nil
}

// clip pushes a clip's frames, looking up now and then.
func (s *session) clip(ctx context.Context, req *pb.AnalyzeClipRequest, to swing.Sink, progress func(int)) error {
	done := 0
	lookUp := func(frames int) error {
		done += frames
		progress(done)
		return ctx.Err()
	}
	frames := req.GetFrames()
	for start := 0; start < len(frames); start += clipChunk {
		end := min(start+clipChunk, len(frames))
		if err := s.push(frames[start:end], "frames", start, to); err != nil {
			return err
		}
		if err := lookUp(end - start); err != nil {
			return err
		}
	}
	for i, b := range req.GetBlocks() {
		if err := s.block(b, fmt.Sprintf("blocks[%d]", i), to); err != nil {
			return err
		}
		if err := lookUp(len(b.GetTimeStepsUs()) + 1); err != nil {
			return err
		}
	}
	return nil
}

// clipFindings collects what a clip answers: settled swings and warnings, each
// warning once.
type clipFindings struct {
	session *session
	res     pb.AnalyzeClipResponse
	seen    map[measure.Warning]bool

	back int // windows that came back settled, or not to be settled
	held []heldWarning
}

// heldWarning waits for the windows that were handed out before it, so that
// warnings come in one order, however long each window takes.
type heldWarning struct {
	after int // windows
	measure.Warning
}

func (c *clipFindings) Event(swing.LiveEvent)   {}
func (c *clipFindings) Reading(swing.Reading)   {}
func (c *clipFindings) Progress(swing.Progress) {}

func (c *clipFindings) Swing(s *measure.Sheet) {
	c.res.Swings = append(c.res.Swings, c.session.swing(s))
	c.back++
	c.release(c.back)
}

func (c *clipFindings) Warning(w measure.Warning) {
	out := 0
	if m, ok := c.session.machine.(deferring); ok {
		out = m.Unsettled()
	}
	switch {
	case w.Code == swing.WarnNotSettled:
		c.add(w)
		c.back++
		c.release(c.back)
	case out > 0:
		c.held = append(c.held, heldWarning{c.back + out, w})
	default:
		c.add(w)
	}
}

// release adds the warnings that waited for no more windows than came back.
func (c *clipFindings) release(back int) {
	for len(c.held) > 0 && c.held[0].after <= back {
		c.add(c.held[0].Warning)
		c.held = c.held[1:]
	}
}

// add adds a warning unless it was there before.
func (c *clipFindings) add(w measure.Warning) {
	if !c.seen[w] && len(c.seen) < maxClipWarnings {
		c.seen[w] = true
		c.res.Warnings = append(c.res.Warnings, wire.Warning(w))
	}
}
