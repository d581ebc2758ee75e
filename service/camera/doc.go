// Package camera finds from where the motion was seen: the court's marks, each
// camera's pose and focal length with their covariance, the offset between
// clocks, and whether the clip's clock runs true.
package camera
