// Package draw makes pictures of findings: plots with error bands, ribbons of
// phases, figures at the events, and self-contained pages of them. It draws
// messages of the contract and computes nothing that they do not hold.
//
// A picture never shows a number without its error: curves have their 95 %
// band, figures their interval, moments the bar of their deviation.
package draw
