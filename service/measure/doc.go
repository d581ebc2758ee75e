// Package measure finds how much: every figure of the catalog as a plain
// function of a course of motion and its events, with its error and grade.
//
//	var r Reader                              // scratch, reused from draw to draw
//	times := r.Read(mean, ctx)                // events of the mean course
//	values := r.Values(nil)                   // one value for each row of Catalog
//	for each draw { r.Read(draw, ctx); r.Values(nil) }
//	figures := Gather(values, draws, conditions)
//	events := GatherEvents(times, drawTimes, EnsembleMedian, method)
//
// A value that does not exist is NaN here and a figure with grade NotMeasurable
// and its reason after Gather. Angles have the signs of measures.md; where the
// International Society of Biomechanics has a convention for the same quantity, the
// function says so.
package measure
