// Package signal is mathematics over sampled values: filters and smoothers with
// their derivatives, robust statistics, trends, agreement between repeats,
// control charts, circular means and time warping. It knows no bodies.
//
// Samples are float64 slices. Times are seconds and rise. Functions leave their
// inputs as they were. A figure that its data cannot give is NaN, never a guess;
// none of the functions panics on NaN, infinities, or empty input.
package signal
