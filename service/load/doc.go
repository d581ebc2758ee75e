// Package load plays many made practices against a server at once and tells
// what that cost and how long findings took.
//
// The path of one trial:
//
//  1. Scripts. A few practices are made (package synth), with think time
//     between balls; what an unbroken run finds in each is the reference.
//  2. Players. Each takes a script and streams it at true speed, some frames a
//     message, over gRPC through package client or over WebSocket.
//  3. Tally. The delay of each acknowledgement, CONTACT and settled swing is
//     noted, and each practice's swings are held to its reference: lost and
//     doubled must be none.
//  4. Search. Trials with more players, then a closer look between the last
//     that was well and the first that was not.
//  5. Echo. The same messages to a server that only acknowledges them: the
//     ceiling of gRPC itself on this machine in this hour.
package load
