package camera

// Axes names the axes in which world points come. The numbers are those of the wire.
type Axes uint8

// Axes of world points, all in metres.
const (
	AxesUnknown Axes = iota
	AxesCourt        // X toward the net, Y up, Z to the right of a player facing the net
	AxesCamera       // x right in the image, y down, z away from the camera; origin at mid-hip
	AxesLevel        // right-handed, Y up, heading and origin unknown
)

// Viewpoint is where a camera looks from, as a coach would say it. The numbers are those of the wire.
type Viewpoint uint8

// Viewpoints.
const (
	ViewUnknown Viewpoint = iota
	ViewBehind            // behind the player, looking at the net
	ViewFront             // from the net, looking at the player
	ViewRight             // from the player's right side
	ViewLeft              // from the player's left side
)

// Mark is a point of the court that a camera may see. The numbers are those
// of the wire's CourtMark (1 to 22), named for a player who stands behind the
// near baseline and faces the net.
type Mark uint8

// MarkedPoint is a court mark seen at a pixel.
type MarkedPoint struct {
	Mark Mark
	X, Y float64 // pixels, x right, y down
}

// Camera is what the client says of one camera. Zero values mean not known.
type Camera struct {
	Width, Height  uint32  // pixels
	Focal          float64 // pixels
	CaptureRate    float64 // Hz, frames a second that the sensor took
	SlowMotion     float64 // clip seconds per real second; 1: true time
	View           Viewpoint
	Marks          []MarkedPoint
	ClockOffset    float64 // seconds, added to this camera's times
	HasClockOffset bool
}
