package proto_test

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"example.com/courtkin/proto"
)

// validatorFolder holds a pinned validator of OpenAPI documents.
const validatorFolder = "../.ci/tools/openapi"

// validator installs the validator when it is missing or old.
func validator(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("needs npm")
	}
	lock, err := os.Stat(filepath.Join(validatorFolder, "package-lock.json"))
	if err != nil {
		t.Fatal(err)
	}
	have, err := os.Stat(filepath.Join(validatorFolder, "node_modules", ".package-lock.json"))
	if err == nil && !have.ModTime().Before(lock.ModTime()) {
		return
	}
	if said, err := exec.Command("npm", "ci", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", validatorFolder).CombinedOutput(); err != nil {
		t.Fatalf("npm ci: %v\n%s", err, said)
	}
}

// TestOpenAPIIsValid has the document judged by the schema of OpenAPI 2, and a
// spoilt one beside it, so that a validator which takes anything shows.
func TestOpenAPIIsValid(t *testing.T) {
	validator(t)
	spoilt := bytes.Replace(proto.OpenAPI, []byte(`"version": "v1"`), []byte(`"vision": "v1"`), 1)
	for name, c := range map[string]struct {
		document []byte
		valid    bool
	}{"ours": {proto.OpenAPI, true}, "without a version": {spoilt, false}} {
		judge := exec.Command("node", "validate.mjs")
		judge.Dir, judge.Stdin = validatorFolder, bytes.NewReader(c.document)
		if said, err := judge.CombinedOutput(); (err == nil) != c.valid {
			t.Errorf("%s: %v\n%.2000s", name, err, said)
		}
	}
}
