// Package practice looks over many swings: level, spread, trend, change since
// an earlier practice, the typical and the best swing, tiring, and the one
// thing to work on next.
package practice
