package main

import (
	"bufio"
	"os"
	"runtime"
	"strings"

	"example.com/courtkin/service"
)

// newService makes the service of a command that does its work by itself: every
// core settles swings.
func newService() (*service.Server, error) {
	return service.New(service.Config{Version: programVersion(), Settlers: runtime.GOMAXPROCS(0)})
}

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
