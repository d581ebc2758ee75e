package k8s

import (
	"bytes"
	"strings"
	"testing"

	"github.com/moby/buildkit/frontend/dockerfile/instructions"
	"github.com/moby/buildkit/frontend/dockerfile/linter"
	"github.com/moby/buildkit/frontend/dockerfile/parser"
)

// dockerfile parses the image's Dockerfile and reports what the builder's linter says.
func dockerfile(t *testing.T) []instructions.Stage {
	t.Helper()
	tree, err := parser.Parse(bytes.NewReader(read(t, "image/Dockerfile")))
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range tree.Warnings {
		t.Errorf("warning: %s", w.Short)
	}
	lint := linter.New(&linter.Config{Warn: func(rule, _, _, message string, where []parser.Range) {
		t.Errorf("%v %s: %s", where, rule, message)
	}})
	stages, _, err := instructions.Parse(tree.AST, lint)
	if err != nil {
		t.Fatal(err)
	}
	return stages
}

// image is what the last stage says of how it runs.
type image struct {
	base, user      string
	entrypoint, cmd []string
}

func lastStage(t *testing.T) image {
	t.Helper()
	stages := dockerfile(t)
	last := stages[len(stages)-1]
	out := image{base: last.BaseName}
	for _, c := range last.Commands {
		switch c := c.(type) {
		case *instructions.UserCommand:
			out.user = c.User
		case *instructions.EntrypointCommand:
			out.entrypoint = c.CmdLine
		case *instructions.CmdCommand:
			out.cmd = c.CmdLine
		}
	}
	return out
}

func TestDockerfile(t *testing.T) {
	got := lastStage(t)
	if got.base != "scratch" || got.user != "65532:65532" {
		t.Errorf("image from %s as %s: want scratch and a user without rights", got.base, got.user)
	}
	if len(got.entrypoint) != 1 || got.entrypoint[0] != "/courtkin" {
		t.Errorf("entry point %q", got.entrypoint)
	}
}

// TestImageContext sees that each folder that the build copies is let through to the builder.
func TestImageContext(t *testing.T) {
	ignore := string(read(t, "image/Dockerfile.dockerignore"))
	for _, s := range dockerfile(t) {
		for _, c := range s.Commands {
			copied, ok := c.(*instructions.CopyCommand)
			if !ok || copied.From != "" {
				continue
			}
			for _, path := range copied.SourcePaths {
				if !strings.Contains(ignore, "\n!"+path+"\n") {
					t.Errorf("%s is copied but kept from the builder", path)
				}
			}
		}
	}
}
