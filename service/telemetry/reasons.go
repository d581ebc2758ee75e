package telemetry

import (
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// serverFault reports whether a code says that we failed, and not the client.
func serverFault(c codes.Code) bool {
	return c == codes.Internal || c == codes.Unknown || c == codes.Unimplemented
}

// reject counts a refused message or request; what is no refusal is not counted.
func (m *meters) reject(name string, err error) {
	if reason := rejection(status.Convert(err)); reason != "" {
		count(m.rejects, 1, "rpc", name, "reason", reason)
	}
}

// rejection is why something was refused, "" when it was not.
func rejection(s *status.Status) string {
	switch s.Code() {
	case codes.OK, codes.Canceled, codes.DeadlineExceeded, codes.Unavailable, codes.DataLoss:
		return ""
	case codes.Unauthenticated:
		return "unauthenticated"
	case codes.PermissionDenied:
		return "forbidden"
	}
	for _, d := range s.Details() {
		switch d := d.(type) {
		case *errdetails.ErrorInfo:
			return limited(d.GetMetadata()["limit"])
		case *errdetails.BadRequest:
			for _, v := range d.GetFieldViolations() {
				return unfit(v.GetField(), v.GetDescription())
			}
		}
	}
	return "other"
}

// limited sorts a limit's name.
func limited(limit string) string {
	switch limit {
	case "quota", "rate":
		return "quota"
	case "messages", "batch_bytes", "clip_frames", "batch_frames", "swings", "recent_cues":
		return "size"
	}
	return "limit"
}

// unfit sorts an unfit field.
func unfit(field, text string) string {
	last := field[strings.LastIndexByte(field, '.')+1:]
	switch {
	case strings.Contains(text, "finite"):
		return "not_finite"
	case last == "time_us" || last == "index" || last == "TimeUS" || strings.HasPrefix(last, "time_"):
		return "times"
	case strings.HasSuffix(last, "layout") || strings.HasSuffix(last, "point_names"):
		return "layout"
	case strings.HasPrefix(last, "image") || strings.HasPrefix(last, "world") || strings.HasPrefix(last, "racket_") || strings.HasPrefix(last, "ball_"):
		return "points"
	case strings.Contains(field, "setup"):
		return "setup"
	}
	return "other"
}

// endOf is how a practice ended.
func (m *meters) endOf(err error) string {
	s := status.Convert(err)
	switch s.Code() {
	case codes.OK:
		return "finished"
	case codes.DataLoss:
		for _, d := range s.Details() {
			if info, ok := d.(*errdetails.ErrorInfo); ok && info.GetReason() == "FRAMES_LOST" {
				return "data_loss"
			}
		}
	case codes.Canceled, codes.Unavailable, codes.DeadlineExceeded:
	case codes.ResourceExhausted:
		for _, d := range s.Details() {
			if info, ok := d.(*errdetails.ErrorInfo); ok && info.GetMetadata()["limit"] == "idle_time" {
				return "idle"
			}
		}
		return "rejected"
	default:
		return "rejected"
	}
	if m.draining.Load() {
		return "drained"
	}
	return "cut"
}
