// Package track turns what cameras saw into a clean course of motion with its
// error: faults of pose estimators repaired, noise learned from the data,
// points smoothed, the racket held rigid, the motion broken at impact.
package track
