// Package camera finds from where the motion was seen, and on what clock.
//
//  1. Court marks (Mark.Point, ITF Rules) lead to a Pose with its covariance: Solve.
//  2. Without marks the player's body does: Upright gives gravity, Locate the place of
//     the body in front of the camera, LocateByStature the same from the image alone.
//  3. Two poses and common motion give the offset between two clocks: ClockOffset
//     (ClockOffsetByHeight without poses); Triangulate then gives points in space.
//  4. What falls freely tells whether the clip's clock runs true: FitFall for one
//     flight, BallFalls, BallFalls3 and HopFalls find the flights, CheckClock gives
//     the verdict.
//  5. Check looks at a camera before practice; ExpectedError propagates its pose and
//     noise to a point.
//
// Camera axes: x right in the image, y down, z away from the camera. Court axes: X
// toward the net, Y up, Z to the right; metres. Pixels: x right, y down. All work
// on what a client sends is bounded.
package camera
