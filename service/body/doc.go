// Package body names what a frame can hold: the points of a player, a racket
// and a ball, the layouts in which pose estimators deliver them, and who plays.
package body
