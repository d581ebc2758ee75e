// Package geom holds vectors, rotations and angles: mathematics that knows no bodies.
//
// Axes are right-handed. Lengths are metres, angles are the type Angle.
package geom
