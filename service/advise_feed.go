package service

import (
	"context"

	pb "example.com/courtkin/proto/courtkin/v1"
	"example.com/courtkin/service/body"
	"example.com/courtkin/service/feed"
	"example.com/courtkin/service/wire"
)

// AdviseFeed answers a ball machine between balls. Its answer is advice and no
// safety interlock.
func (s *Server) AdviseFeed(_ context.Context, req *pb.AdviseFeedRequest) (*pb.AdviseFeedResponse, error) {
	r, err := s.feedRequest(req)
	if err != nil {
		return nil, statusError(err)
	}
	return wire.Advice(feed.Advise(s.config.Book, r)), nil
}

// feedRequest checks and converts a request.
func (s *Server) feedRequest(req *pb.AdviseFeedRequest) (feed.Request, error) {
	r := feed.Request{FeedsSoFar: req.GetFeedsSoFar(), Locale: req.GetLocale()}
	var err error
	if r.Recent, err = wire.Sheets(req.GetRecent(), "recent", s.config.Limits.Swings); err != nil {
		return r, err
	}
	for _, b := range []struct {
		to   *feed.Ball
		from *pb.Feed
		path string
	}{{&r.Last, req.GetLastFeed(), "last_feed"}, {&r.Least, req.GetLeast(), "least"}, {&r.Most, req.GetMost(), "most"}} {
		if *b.to, err = wire.Ball(b.from, b.path); err != nil {
			return r, err
		}
	}
	if r.Player, err = wire.Player(req.GetPlayer(), "player"); err != nil {
		return r, err
	}
	if len(req.GetNow()) == 0 && req.GetSetup() == nil {
		return r, nil
	}
	in, frames, err := s.look(req.GetSetup(), req.GetNow(), "now")
	r.Now, r.Axes, r.Cameras = frames, in.Setup.Axes, in.Setup.Cameras
	return r, err
}

// look reads the few frames of a call that looks at a player and measures no swing.
func (s *Server) look(setup *pb.Setup, frames []*pb.Frame, list string) (wire.Intake, []body.Frame, error) {
	in, err := wire.Setup(setup, "setup")
	if err != nil {
		return in, nil, err
	}
	if err := exceeds("batch_frames", int64(len(frames)), int64(s.config.Limits.BatchFrames), "frames to look at"); err != nil {
		return in, nil, err
	}
	decoder := wire.NewDecoder(&in)
	out := make([]body.Frame, len(frames))
	for i, f := range frames {
		if err := decoder.Frame(f, list, i, &out[i]); err != nil {
			return in, nil, err
		}
	}
	return in, out, nil
}
