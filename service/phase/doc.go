// Package phase finds when: it locates the events of a swing on a course of
// motion and cuts the swing into phases.
package phase
