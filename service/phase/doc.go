// Package phase finds when: it locates the events of a swing on a course of
// motion and cuts the swing into phases.
//
//	k := new(Curves)        // scratch, reused from course to course
//	k.Read(course, ctx)     // turns, rates and speeds at every sample
//	times := k.Locate()     // the events, between samples; NaN where absent
//	phases := Phases(times, stroke, first, last)
//
// Instants before impact are read from the samples before it and the limit at
// the break; nothing that happens after impact is used for them.
package phase
