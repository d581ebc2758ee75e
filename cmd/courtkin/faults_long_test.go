//go:build long

package main

import (
	"os"
	"strconv"
	"testing"
	"time"
)

// TestFaultsForMinutes breaks things over and over, each fault in its turn, for
// COURTKIN_FAULT_MINUTES (10 without): what a rare interleaving does is met only by
// many tries. Rounds are whole; it stops after the first that fails.
func TestFaultsForMinutes(t *testing.T) {
	minutes := 10.0
	if text := os.Getenv("COURTKIN_FAULT_MINUTES"); text != "" {
		var err error
		if minutes, err = strconv.ParseFloat(text, 64); err != nil || !(minutes > 0) {
			t.Fatalf("COURTKIN_FAULT_MINUTES=%q is no number of minutes", text)
		}
	}
	faults := []struct {
		name string
		try  func(*testing.T)
	}{
		{"killed", TestFaultKilled}, {"paused", TestFaultPaused}, {"cut", TestFaultCut}, {"half open", TestFaultHalfOpen},
		{"slow network", TestFaultSlowNetwork}, {"rollout", TestFaultRollout}, {"clocks", TestFaultClocks},
		{"half frame", TestFaultHalfFrame}, {"garbage", TestFaultGarbage}, {"flood", TestFaultFlood},
		{"slow reader", TestFaultSlowReader}, {"descriptors", TestFaultDescriptors}, {"slow loris", TestFaultSlowLoris},
	}
	end := time.Now().Add(time.Duration(minutes * float64(time.Minute)))
	for round := 1; time.Now().Before(end); round++ {
		// Some faults are tried side by side: a round ends when all of it has.
		if !t.Run(strconv.Itoa(round), func(t *testing.T) {
			for _, f := range faults {
				t.Run(f.name, f.try)
			}
		}) {
			return
		}
	}
}
