// Package cue chooses what to say to the player: at most one thing to change
// and one thing to keep a swing.
//
// The catalog is data (catalog/*.json): conditions in CEL over the swing's
// figures with their intervals, texts and drills in English and German, the
// place in the chain of causes, and the source. A book is compiled once; asking
// it is cheap and touches nothing but its arguments.
package cue
