//go:build race

package checks

// racing: the race detector is on.
const racing = true
