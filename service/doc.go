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
//  4. Push. The machine takes the frame: clean course, events, figures
//     (packages track, phase, measure, joined in swing). A clip is a loop over
//     the same Push, so live and recorded cannot differ.
//  5. Findings. Provisional events and readings go out as they come; a settled
//     swing first gets its cues, chosen with the practice so far in mind (session.go).
//  6. Acknowledgement. Each batch is answered with what was taken and from
//     which frame on the client must keep its own (stream_practice.go).
//  7. Finish. The client's honest end settles what is open. A stream that ends
//     without it was cut off and says so.
//
// Judgement (CompareSwings, SummarizePractice, AdviseFeed) reads swings that a
// client sends back: nothing of a body is kept here between calls.
package service
