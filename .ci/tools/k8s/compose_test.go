package k8s

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/compose-spec/compose-go/v2/cli"
)

// TestCompose loads the file as docker compose does, schema included, with every profile.
func TestCompose(t *testing.T) {
	options, err := cli.NewProjectOptions([]string{filepath.Join(deploy, "compose/compose.yaml")}, cli.WithProfiles([]string{"*"}))
	if err != nil {
		t.Fatal(err)
	}
	project, err := options.LoadProject(context.Background())
	if err != nil {
		t.Fatal(err)
	}
	for name, s := range project.Services {
		if len(s.CapDrop) != 1 || s.CapDrop[0] != "ALL" || s.MemLimit == 0 {
			t.Errorf("%s: keeps capabilities or has no memory limit", name)
		}
	}
	own := project.Services["courtkin"]
	if !own.ReadOnly || own.User != "65532:65532" {
		t.Error("courtkin is not read-only or not user 65532")
	}
}
