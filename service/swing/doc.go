// Package swing is the machine that joins the stages: frames in, findings out.
//
// It holds no goroutine, no clock and no I/O; time comes from the frames alone.
// A clip is a loop over Push, so live and recorded cannot differ. The settled
// depth can be handed out: each window is a Job that is closed and may be done on
// any goroutine; findings are the same whoever does it, and when.
package swing
