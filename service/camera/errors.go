package camera

import "fmt"

// Fault says what is unfit about a camera's marks.
type Fault uint8

// Faults of a camera's marks.
const (
	FaultTooFew        Fault = iota + 1 // fewer than four different marks
	FaultCollinear                      // the marks lie on one line, or too many of four do
	FaultContradictory                  // no camera above the ground sees them so
	FaultUnknownMark                    // a number that names no mark
	FaultRepeated                       // one mark at two places
	FaultNotFinite                      // a coordinate that is no number, or far outside the image
	FaultNoSize                         // the image's width and height are not given
)

// MarksError tells why no pose can be had from a camera's marks.
type MarksError struct {
	Fault Fault
	Text  string // plain words
}

// Error implements error.
func (e *MarksError) Error() string { return e.Text }

// Field names the field of the setup that is at fault, for the camera with that index.
func (e *MarksError) Field(camera int) string {
	if e.Fault == FaultNoSize {
		return fmt.Sprintf("setup.cameras[%d].width_px", camera)
	}
	return fmt.Sprintf("setup.cameras[%d].court_marks", camera)
}

func fault(f Fault, format string, args ...any) error {
	return &MarksError{f, fmt.Sprintf(format, args...)}
}
