// Package trial scores analysed swings against made swings whose truth is known:
// errors of events and measures, coverage of the stated intervals, refusals, lies,
// and what was found or invented, beside the figures that are promised.
package trial
