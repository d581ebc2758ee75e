// Package measure finds how much: every figure of the catalog as a plain
// function of a course of motion and its events, with its error and grade.
package measure
