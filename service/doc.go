// Package service is the gRPC edge of Courtkin: one file for each call, the
// conversion between wire and core, limits, and errors as codes.
//
// The path of a frame, recorded or live:
//
//  1. Bytes. The codec counts a request's messages before it decodes them, so
//     that small bytes cannot become large memory (codec.go).
//  2. Setup. The first thing a call brings says who plays and how the frames
//     come; it is checked field by field and makes a machine (wire.Setup, session.go).
//  3. Frames. Each frame, plain or out of a block, is checked against the
//     frames before it and put into the core's point order (wire.Decoder).
//  4. Push. The machine takes the frame: live depth, then, where a burst of
//     motion ends as a swing, a job with its raw window (package swing). A clip is
//     a loop over the same Push, so live and recorded cannot differ.
//  5. Pool. A bounded number of workers does the jobs: clean course, events,
//     figures (packages track, phase, measure). Frames go on meanwhile. Live
//     practices come before clips; a stream with too many jobs out waits, as does a
//     practice that is sent faster than it is played while a swing of it is out, and
//     through it the sender (pool.go, settling.go).
//  6. Findings. Provisional events and readings go out as they come; settled
//     swings in the order played, as soon as they are settled, each with its cues,
//     chosen with the practice so far in mind (session.go). What later frames show
//     does not hang on when that was: all that a settled swing tells the live depth
//     is the racket hand, at a fixed time of the frames' clock.
//  7. Acknowledgement. Each batch is answered with what was taken and from
//     which frame on the client must keep its own: from before any swing that
//     has not been sent (stream_practice.go).
//  8. Finish. The client's honest end settles what is open and waits for it. A
//     stream that ends without it was cut off and says so, after the swings that
//     were under way.
//
// Judgement (CompareSwings, SummarizePractice, AdviseFeed) reads swings that a
// client sends back: nothing of a body is kept here between calls.
package service
