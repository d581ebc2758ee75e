package client

import (
	"errors"
	"time"

	"google.golang.org/grpc"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// Config says whom to stream to, and what. Zero fields stand for their defaults.
type Config struct {
	Targets []string          // gRPC targets, tried in turn; at least one
	Dial    []grpc.DialOption // for each of them: credentials and the like
	Open    *pb.StreamPracticeRequest_Open

	// Handle gets every finding once, in order, from one goroutine. While it
	// works, no more are taken from the server.
	Handle func(*pb.StreamPracticeResponse)
	// Lost is told of every break that is survived; nil: nobody.
	Lost func(error)

	Batch   int  // most frames in a message, in [1, 32]; default 8
	Compact bool // send blocks: a third of the bytes, coordinates rounded to 1/8 px and 1 mm
	Window  int  // most frames unacknowledged; default 1024
	Keep    int  // most frames kept; Send waits beyond; default 50,000 (a clip of unknown slow motion asks for five minutes)

	FirstPause time.Duration // before a new try; default 100 ms, doubled with each
	LastPause  time.Duration // at most; default 5 s
	Tries      int           // in a row without any frame acknowledged; default 20
}

func (c Config) withDefaults() (Config, error) {
	if len(c.Targets) == 0 || c.Open == nil || c.Handle == nil {
		return c, errors.New("client: targets, open and handle must be set")
	}
	if c.Lost == nil {
		c.Lost = func(error) {}
	}
	for _, d := range []struct {
		field *int
		value int
	}{{&c.Batch, 8}, {&c.Window, 1024}, {&c.Keep, 50_000}, {&c.Tries, 20}} {
		if *d.field == 0 {
			*d.field = d.value
		}
	}
	if c.Batch < 1 || c.Batch > 32 || c.Window < c.Batch || c.Keep < c.Window || c.Tries < 1 {
		return c, errors.New("client: batch must be 1 to 32, window at least batch, keep at least window, tries at least 1")
	}
	if c.FirstPause == 0 {
		c.FirstPause = 100 * time.Millisecond
	}
	if c.LastPause == 0 {
		c.LastPause = 5 * time.Second
	}
	return c, nil
}
