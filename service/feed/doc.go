// Package feed answers a ball machine between balls: feed, hold or stop, and
// which ball next. Its answers are advice and no safety interlock, and say so.
package feed
