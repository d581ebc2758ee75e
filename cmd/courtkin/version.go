package main

import (
	"fmt"
	"runtime/debug"
)

// version is set by the linker for releases.
var version = ""

// programVersion returns the version of the build: the linker's, else the
// commit that the build was made of, else "dev".
func programVersion() string {
	if version != "" {
		return version
	}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "dev"
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			return s.Value[:min(12, len(s.Value))]
		}
	}
	return "dev"
}

type versionCmd struct{}

// Run prints the version.
func (versionCmd) Run(c *console) error {
	_, err := fmt.Fprintln(c.out, "courtkin", programVersion())
	return err
}
