// Package client streams a practice to the service and loses nothing when
// connections break.
//
// The path of a frame:
//
//  1. Send keeps it and wakes the sender.
//  2. The sender puts what is at hand into a batch, plain or as a block, and
//     stops while too much is unacknowledged: a slow server slows the camera's
//     end, not the memory.
//  3. Each Ack says up to where the server has taken frames and from which one
//     on they may still matter; older ones are let go.
//  4. When the connection breaks, the next target is tried after a pause; a new
//     stream starts with what is kept. The server works its way through the same
//     frames to the same swings with the same ids: those handed on already are
//     dropped, and so are events and readings of frames that had been
//     acknowledged before. Where connections keep breaking before a swing is
//     settled, some are tried slower (pace.go).
//  5. Finish says how many frames were sent and waits for the good end.
package client
