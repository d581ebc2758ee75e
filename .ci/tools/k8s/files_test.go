// Package k8s holds the checks of the deploy folder: every manifest against the
// types that a cluster decodes it into, the proxy's configuration against its
// own, the Dockerfile against the builder's parser, rules and dashboard against
// the metric names. It is a module of its own, so that what the checks need
// never reaches the users' go.mod.
package k8s

import (
	"os"
	"path/filepath"
	"testing"
)

// root is the folder of the repository, deploy the folder under test.
const (
	root   = "../../.."
	deploy = root + "/deploy"
)

// read returns a file of the deploy folder.
func read(t *testing.T, path ...string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(append([]string{deploy}, path...)...))
	if err != nil {
		t.Fatal(err)
	}
	return data
}
