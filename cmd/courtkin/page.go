package main

import (
	"os"
	"path/filepath"

	"example.com/courtkin/gateway"
	"example.com/courtkin/gateway/web"
)

// pageFlags say what page the gateway serves at /.
type pageFlags struct {
	Page bool   `default:"true" negatable:"" env:"COURTKIN_PAGE" help:"Serve the page at /."`
	Pose string `type:"path" placeholder:"DIR" env:"COURTKIN_POSE" help:"Folder of the npm package @mediapipe/pose, with which the page finds a player in the camera's picture."`
}

// apply puts the page into a gateway's configuration.
func (f *pageFlags) apply(c *gateway.Config) error {
	if f.Page {
		c.Web = web.Files()
	}
	if f.Pose == "" {
		return nil
	}
	if _, err := os.Stat(filepath.Join(f.Pose, "pose.js")); err != nil {
		return usage("--pose %s: holds no pose.js; install it with npm ci --prefix gateway/web/addon", f.Pose)
	}
	c.Pose = os.DirFS(f.Pose)
	return nil
}
