package gateway

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"io"
	"net/http"
	"time"

	"github.com/grpc-ecosystem/grpc-gateway/v2/runtime"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "example.com/courtkin/proto/courtkin/v1"
)

// headerWait is how long the answer's headers are held back for an early
// error, which then gets its own HTTP code. A client that sends nothing before
// it sees headers waits no longer than this.
const headerWait = 300 * time.Millisecond

// stream serves StreamPractice as newline-delimited JSON: a
// StreamPracticeRequest a line in, a StreamPracticeResponse a line out, both at
// once. Whatever ends a stream in other than its good end is a last line
// {"error": Status}; after a line that could not be read, the connection is
// broken off besides.
func (g *gateway) stream(w http.ResponseWriter, r *http.Request) {
	s := &lineStream{gateway: g, w: w, control: http.NewResponseController(w), body: r.Body}
	// Without it, an HTTP/1.1 server may not answer while the body is open.
	if err := s.control.EnableFullDuplex(); err != nil && r.ProtoMajor == 1 {
		writeStatus(w, http.StatusInternalServerError, status.New(2, "this connection cannot stream both ways"))
		return
	}
	ctx, cancel := context.WithCancel(metadata.NewOutgoingContext(r.Context(), streamed(r, "ndjson")))
	defer cancel()
	stream, err := g.client.StreamPractice(ctx)
	if err != nil {
		callError(ctx, nil, nil, w, r, err)
		return
	}
	sent := make(chan error, 1)
	go func() { sent <- s.send(stream) }()
	err = s.answer(ctx, stream)
	cancel()
	s.end(err, sent)
}

// lineStream is one such stream.
type lineStream struct {
	*gateway
	w       http.ResponseWriter
	control *http.ResponseController
	body    io.ReadCloser
	started bool // headers are out
}

// practiceStream is the gateway's end of a StreamPractice call.
type practiceStream = pb.SwingAnalysisService_StreamPracticeClient

// unreadable is a line or message that is no request.
type unreadable struct{ *status.Status }

func (u unreadable) Error() string { return u.Message() }

// send passes lines on until the body ends. It ends the sending side in any
// case, so that the service sends what it has; an unreadable line is returned.
func (s *lineStream) send(to practiceStream) error {
	defer func() { _ = to.CloseSend() }()
	lines := bufio.NewReaderSize(s.body, 64<<10)
	for {
		line, err := readLine(lines, s.config.LineBytes)
		if len(bytes.TrimSpace(line)) > 0 {
			req := &pb.StreamPracticeRequest{}
			if bad := decode(line, req, s.config.Objects); bad != nil {
				return unreadable{jsonError(bad.Error())}
			}
			if to.Send(req) != nil {
				return nil // Recv says why
			}
		}
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case err != nil:
			return err
		}
	}
}

// readLine returns the next line without its end, with io.EOF when it was the last.
func readLine(r *bufio.Reader, most int) ([]byte, error) {
	var line []byte
	for {
		part, err := r.ReadSlice('\n')
		line = append(line, part...)
		if len(line) > most {
			return nil, limitError{"line_bytes", int64(most), "bytes in a line"}
		}
		if !errors.Is(err, bufio.ErrBufferFull) {
			return line, err
		}
	}
}

// answer writes findings as lines until the service ends the stream; a good
// end is nil.
func (s *lineStream) answer(ctx context.Context, from practiceStream) error {
	type received struct {
		res *pb.StreamPracticeResponse
		err error
	}
	found := make(chan received)
	go func() {
		for {
			res, err := from.Recv()
			select {
			case found <- received{res, err}:
			case <-ctx.Done(): // not the call's own context, which ends before its error is read
				return
			}
			if err != nil {
				return
			}
		}
	}()
	headers := time.NewTimer(headerWait)
	defer headers.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-headers.C:
			if err := s.start(); err != nil {
				return err
			}
		case m := <-found:
			if errors.Is(m.err, io.EOF) {
				return nil
			}
			if m.err != nil {
				return m.err
			}
			raw, err := encoder.Marshal(m.res)
			if err != nil {
				return err
			}
			if err := s.line(raw); err != nil {
				return err
			}
		}
	}
}

// start sends the headers.
func (s *lineStream) start() error {
	if s.started {
		return nil
	}
	s.started = true
	s.w.Header().Set("Content-Type", "application/x-ndjson")
	s.w.Header().Set("Cache-Control", "no-store")
	s.w.Header().Set("X-Accel-Buffering", "no") // a proxy must not hold lines back
	s.w.WriteHeader(http.StatusOK)
	return s.control.Flush()
}

// line writes one line at once.
func (s *lineStream) line(raw []byte) error {
	if err := s.start(); err != nil {
		return err
	}
	_ = s.control.SetWriteDeadline(time.Now().Add(s.config.WriteTime))
	if _, err := s.w.Write(append(raw, '\n')); err != nil {
		return err
	}
	return s.control.Flush()
}

// end closes the stream as it deserves. sent tells how the sending side ended.
func (s *lineStream) end(err error, sent <-chan error) {
	bad := s.stopSending(sent)
	if bad != nil && (err != nil || !s.started) {
		err = bad
	}
	if err == nil {
		if s.start() != nil {
			panic(http.ErrAbortHandler)
		}
		return
	}
	st := status.Convert(err)
	if u := (unreadable{}); errors.As(err, &u) {
		st = u.Status
	}
	if !s.started {
		writeStatus(s.w, runtime.HTTPStatusFromCode(st.Code()), st)
		return
	}
	if s.line(append(append([]byte(`{"error":`), statusJSON(st)...), '}')) != nil || bad != nil {
		s.abort()
	}
}

// stopSending waits a while for the sending side, then breaks its reading off,
// and returns the line that was unreadable, if any.
func (s *lineStream) stopSending(sent <-chan error) error {
	_ = s.control.SetReadDeadline(time.Now().Add(s.config.Linger))
	err := <-sent
	var limit limitError
	switch u := (unreadable{}); {
	case errors.As(err, &u):
		return u
	case errors.As(err, &limit):
		return unreadable{jsonError(limit.Error())}
	}
	return nil
}

// abort breaks the connection off after the client has had time to read why.
func (s *lineStream) abort() {
	_ = s.control.SetReadDeadline(time.Now().Add(s.config.Linger))
	_, _ = io.Copy(io.Discard, io.LimitReader(s.body, 64<<20))
	panic(http.ErrAbortHandler)
}
