// Package wire turns the contract's messages into the core's types and back,
// and says by field what is unfit in them.
//
//	Setup     pb.Setup  → Intake: the machine's setup, the point layout, warnings
//	Decoder   pb.Frame  → body.Frame, checked against the frames before it
//	Unblock   pb.FrameBlock → pb.Frame, and Block the other way
//	Swing     measure.Sheet → pb.Swing, and Sheet the other way
//
// Nothing here keeps a message after it returns.
package wire
