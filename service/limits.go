package service

import (
	"errors"
	"time"

	"example.com/courtkin/service/wire"
)

// Limits bound what one client may ask. A client that passes one is answered
// RESOURCE_EXHAUSTED with the limit's name, the lower_snake form of the field's.
type Limits struct {
	MessageBytes int // of one request or response
	Messages     int // nested in one request, frames, measures and the like
	BatchBytes   int // of one message of a stream

	ClipFrames  int // in AnalyzeClip, frames of blocks included
	BatchFrames int // in one FrameBatch, frames of blocks included

	StreamFrames int64         // in one stream
	StreamTime   time.Duration // length of one stream
	IdleTime     time.Duration // between two messages of a stream
	SendTime     time.Duration // for a slow reader to take a message

	Streams int // at once
	Clips   int // analysed at once; more wait

	Swings int // in one request
}

// DefaultLimits are generous for any honest client. The figures are our own:
// a clip of 64 MiB passes (300,000 frames of 17 image points), a stream lasts
// longer than a day on court.
func DefaultLimits() Limits {
	return Limits{
		MessageBytes: 96 << 20,
		Messages:     1_000_000,
		BatchBytes:   4 << 20,
		ClipFrames:   500_000,
		BatchFrames:  4096,
		StreamFrames: 50_000_000,
		StreamTime:   12 * time.Hour,
		IdleTime:     2 * time.Minute,
		SendTime:     30 * time.Second,
		Streams:      2000,
		Clips:        8,
		Swings:       5000,
	}
}

// Validate tells what is unfit about the limits.
func (l Limits) Validate() error {
	for _, v := range []int64{
		int64(l.MessageBytes), int64(l.Messages), int64(l.BatchBytes), int64(l.ClipFrames), int64(l.BatchFrames),
		l.StreamFrames, int64(l.StreamTime), int64(l.IdleTime), int64(l.SendTime),
		int64(l.Streams), int64(l.Clips), int64(l.Swings),
	} {
		if v <= 0 {
			return errors.New("every limit must be above 0")
		}
	}
	return nil
}

// exceeds returns an error naming the limit when got is above most.
func exceeds(limit string, got, most int64, unit string) error {
	if got <= most {
		return nil
	}
	return &wire.LimitError{Limit: limit, Most: most, Unit: unit}
}
