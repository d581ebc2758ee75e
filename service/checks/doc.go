// Package checks holds the service's figures against the world outside:
// published coefficients, worked examples, benchmark recordings, rules of the
// game, textbook physics, and SciPy, statsmodels and numpy run live. It has tests only.
//
// Every check is a row: what, the published value, ours, the tolerance, the
// source and how the source's number was had. The rows are printed in
// testdata/checks.md, which
//
//	go test ./service/checks -write
//
// writes anew; the plain test fails when a row fails or the page is out of date.
package checks
