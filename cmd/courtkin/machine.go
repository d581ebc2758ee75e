package main

import (
	"bufio"
	"os"
	"strings"
)

// cpuModel names the processor, as Linux tells it.
func cpuModel() string {
	f, err := os.Open("/proc/cpuinfo")
	if err != nil {
		return "unknown processor"
	}
	defer f.Close()
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if name, value, ok := strings.Cut(lines.Text(), ":"); ok && strings.TrimSpace(name) == "model name" {
			return strings.TrimSpace(value)
		}
	}
	return "unknown processor"
}
