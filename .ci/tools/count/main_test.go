package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Lines as go test -json of Go 1.26 prints them.
const (
	passing = `{"Action":"run","Package":"p","Test":"TestA"}
{"Action":"pass","Package":"p","Test":"TestA","Elapsed":0.1}
{"Action":"run","Package":"p","Test":"TestB"}
{"Action":"run","Package":"p","Test":"TestB/one"}
{"Action":"pass","Package":"p","Test":"TestB/one","Elapsed":0}
{"Action":"run","Package":"p","Test":"TestB/two"}
{"Action":"output","Package":"p","Test":"TestB/two","Output":"    b_test.go:9: no folder\n"}
{"Action":"skip","Package":"p","Test":"TestB/two","Elapsed":0}
{"Action":"pass","Package":"p","Test":"TestB","Elapsed":0.1}
{"Action":"pass","Package":"p","Elapsed":0.2}
{"Action":"skip","Package":"without/tests","Elapsed":0}
`
	failing = `{"Action":"run","Package":"p","Test":"TestA"}
{"Action":"output","Package":"p","Test":"TestA","Output":"    a_test.go:3: wrong\n"}
{"Action":"fail","Package":"p","Test":"TestA","Elapsed":0.1}
{"Action":"fail","Package":"p","Elapsed":0.2}
`
	parentFails = `{"Action":"run","Package":"p","Test":"TestA"}
{"Action":"run","Package":"p","Test":"TestA/sub"}
{"Action":"pass","Package":"p","Test":"TestA/sub","Elapsed":0.1}
{"Action":"fail","Package":"p","Test":"TestA","Elapsed":0.1}
{"Action":"fail","Package":"p","Elapsed":0.2}
`
	noBuild = `{"ImportPath":"p [p.test]","Action":"build-output","Output":"p.go:1: syntax error\n"}
{"ImportPath":"p [p.test]","Action":"build-fail"}
{"Action":"start","Package":"p"}
{"Action":"fail","Package":"p","Elapsed":0,"FailedBuild":"p [p.test]"}
`
	cutOff = `{"Action":"run","Package":"p","Test":"TestA"}
{"Action":"output","Package":"p","Output":"panic: test timed out\n"}
{"Action":"fail","Package":"p","Elapsed":0.2}
`
)

func TestCount(t *testing.T) {
	for _, c := range []struct {
		name, log string
		want      tally
		says      string // in the report
	}{
		{"leaves are counted, parents are not", passing, tally{2, 0, 1}, "skipped: p TestB/two: b_test.go:9: no folder"},
		{"a failure shows its output", failing, tally{0, 1, 0}, "a_test.go:3: wrong"},
		{"a parent that fails alone", parentFails, tally{1, 1, 0}, "failed: p TestA\n"},
		{"a package that does not build", noBuild, tally{0, 1, 0}, "syntax error"},
		{"a test that never came to its end", cutOff, tally{0, 1, 0}, "test timed out"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "log")
			if err := os.WriteFile(path, []byte(c.log), 0o600); err != nil {
				t.Fatal(err)
			}
			l, err := read(path)
			if err != nil {
				t.Fatal(err)
			}
			if got := l.tally(); got != c.want {
				t.Errorf("tally %v, want %v", got, c.want)
			}
			var out strings.Builder
			l.report(&out)
			if !strings.Contains(out.String(), c.says) {
				t.Errorf("report lacks %q:\n%s", c.says, &out)
			}
		})
	}
}
