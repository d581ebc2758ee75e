package service

import (
	"context"
	"errors"
	"fmt"
	"slices"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/cue"
	"example.com/courtkin/service/measure"
	"example.com/courtkin/service/swing"
	"example.com/courtkin/service/wire"
)

// maxRecent is how many of the newest cues are remembered: more than any rule
// of selection looks back.
const maxRecent = 64

// session is one player's frames on their way through the machine.
type session struct {
	// fixed
	machine  Machine
	warnings []measure.Warning // about the setup
	book     *cue.Book
	settling *settling

	// updated with each frame
	decoder *wire.Decoder
	frame   body.Frame

	// updated with each swing
	history cue.History
}

// open checks a setup and makes a machine for it; path is its place in the
// request. Its swings are settled for as long as ctx lasts. clock is what an
// earlier stream found out that this one resumes.
func (s *Server) open(ctx context.Context, c class, setup *pb.Setup, clock swing.Clock, path string) (*session, error) {
	in, err := wire.Setup(setup, path)
	if err != nil {
		return nil, err
	}
	in.Setup.Clock = clock
	machine, err := s.config.NewMachine(in.Setup)
	if unfit := (*swing.SetupError)(nil); errors.As(err, &unfit) {
		return nil, wire.Problems{{Field: path + "." + unfit.Field, Description: unfit.Reason}}
	}
	if err != nil {
		return nil, err
	}
	ses := &session{
		machine: machine, warnings: in.Warnings, book: s.config.Book, settling: newSettling(ctx, s.pool, c),
		decoder: wire.NewDecoder(&in),
		history: cue.History{Player: in.Setup.Player, Locale: in.Locale},
	}
	if m, ok := machine.(deferring); ok {
		m.SettleBy(ses.settling)
	}
	return ses, nil
}

// block pushes the frames of a block; path is its place in the request.
func (s *session) block(b *pb.FrameBlock, path string, to swing.Sink) error {
	frames, err := wire.Unblock(b, path)
	if err != nil {
		return err
	}
	return s.push(frames, path+".frame", 0, to)
}

// push pushes frames, of which the first stands at place `from` of the
// request's list. On an error the frames before it have been pushed.
func (s *session) push(frames []*pb.Frame, list string, from int, to swing.Sink) error {
	for i, f := range frames {
		if err := s.decoder.Frame(f, list, from+i, &s.frame); err != nil {
			return err
		}
		s.settling.hear(s.frame.TimeUS)
		err := s.machine.Push(&s.frame, to)
		if unfit := (*swing.FrameError)(nil); errors.As(err, &unfit) {
			return wire.Problems{{Field: fmt.Sprintf("%s[%d].%s", list, from+i, unfit.Field), Description: unfit.Error()}}
		}
		if err != nil {
			return err
		}
		s.takeBack(to)
	}
	return nil
}

// finish settles what is open and waits for it.
func (s *session) finish(to swing.Sink) {
	s.machine.Finish(to)
	s.settling.forget(0)
}

// swing returns a settled swing with its cues, and remembers them.
func (s *session) swing(sheet *measure.Sheet) *pb.Swing {
	out := wire.Swing(sheet)
	cues := s.book.Select(sheet, s.history)
	out.Cues = wire.Cues(cues)
	s.history.SwingsSoFar++
	for _, c := range cues {
		s.history.Recent = append(s.history.Recent, c.Name)
	}
	if extra := len(s.history.Recent) - maxRecent; extra > 0 {
		s.history.Recent = slices.Delete(s.history.Recent, 0, extra)
	}
	return out
}

// frameCount returns how many frames a request holds, those of blocks included.
func frameCount(frames []*pb.Frame, blocks []*pb.FrameBlock) int64 {
	n := int64(len(frames))
	for _, b := range blocks {
		n += int64(len(b.GetTimeStepsUs())) + 1
	}
	return n
}
