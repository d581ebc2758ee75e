// Package swing is the machine that joins the stages: frames in, findings out.
//
// It holds no goroutine, no clock and no I/O; time comes from the frames alone.
// A clip is a loop over Push, so live and recorded cannot differ.
package swing
