// Package arch holds tests of the shape of the code: who may import whom, what
// the core must not touch, and under which licences the binary's modules come.
package arch

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

const module = "example.com/courtkin"

// rows says which siblings each package of the core may import, in the order
// of the stages. A package that is not here is not of the core.
var rows = map[string][]string{
	"geom":     {},
	"signal":   {"geom"},
	"body":     {"geom"},
	"camera":   {"geom", "signal", "body"},
	"track":    {"geom", "signal", "body", "camera"},
	"phase":    {"geom", "signal", "body", "track"},
	"measure":  {"geom", "signal", "body", "camera", "track", "phase"},
	"compare":  {"geom", "signal", "body", "phase", "measure", "camera"},
	"practice": {"geom", "signal", "body", "phase", "measure", "camera", "compare", "cue"},
	"cue":      {"body", "phase", "measure"},
	"feed":     {"geom", "body", "measure", "phase", "cue", "camera", "signal"},
	"swing":    {"geom", "signal", "body", "camera", "track", "phase", "measure", "compare", "practice", "cue", "feed"},
	"synth":    {"geom", "signal", "body", "camera", "phase", "measure", "swing", "track"},
	"trial":    {"synth", "measure", "phase", "body", "swing", "signal"},
}

// edges are the folders below service that are not of the core: they may
// import anything, and nothing of the core may import them.
var edges = []string{"arch", "check", "client", "draw", "wire", "telemetry", "auth", "load", "fault", "checks"}

// outside says which modules beyond the standard library a core package may use.
func outside(pkg string) []string {
	allowed := []string{"gonum.org/v1/gonum/"}
	if pkg == "cue" {
		allowed = append(allowed, "cel.dev/cel-go/", "github.com/google/cel-go/")
	}
	return allowed
}

// forbiddenStd are packages of the standard library that reach a clock's
// neighbours: files, network, logs, other programs. Package time itself may
// be used for durations; reading the clock is caught by TestCoreReadsNoClock.
var forbiddenStd = []string{"os", "io/ioutil", "net", "log", "syscall", "plugin", "unsafe", "runtime/debug"}

// source is one parsed Go file of the core that is no test.
type source struct {
	pkg  string // "geom"
	path string
	file *ast.File
}

// root is the folder of go.mod, two above this one.
const root = "../.."

// sources parses every Go file below dir that is no test.
func sources(t *testing.T, dir string) (*token.FileSet, []source) {
	t.Helper()
	set := token.NewFileSet()
	var found []source
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		pkg, _, _ := strings.Cut(filepath.ToSlash(rel), "/")
		found = append(found, source{pkg, path, file})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return set, found
}

// core parses the core alone.
func core(t *testing.T) (*token.FileSet, []source) {
	t.Helper()
	set, all := sources(t, root+"/service")
	return set, slices.DeleteFunc(all, func(s source) bool { _, ok := rows[s.pkg]; return !ok })
}

// imports lists what a file imports.
func (s source) imports(t *testing.T) []string {
	t.Helper()
	var paths []string
	for _, spec := range s.file.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		if err != nil {
			t.Fatalf("%s: %v", s.path, err)
		}
		paths = append(paths, path)
	}
	return paths
}

// breach says what is wrong with a core package's import, or nothing.
func breach(pkg, path string) string {
	if sibling, ok := strings.CutPrefix(path, module+"/service/"); ok {
		sibling, _, _ = strings.Cut(sibling, "/")
		if sibling == pkg || slices.Contains(rows[pkg], sibling) {
			return ""
		}
		return "its row does not allow " + sibling
	}
	if path == module || strings.HasPrefix(path, module+"/") {
		return "the core knows nothing outside service: " + path
	}
	first, _, _ := strings.Cut(path, "/")
	if strings.Contains(first, ".") {
		if slices.ContainsFunc(outside(pkg), func(p string) bool { return strings.HasPrefix(path+"/", p) }) {
			return ""
		}
		return "not the standard library, gonum or (in cue) cel-go: " + path
	}
	if slices.ContainsFunc(forbiddenStd, func(p string) bool { return path == p || strings.HasPrefix(path, p+"/") }) {
		return "the core does without " + path
	}
	return ""
}

func TestCoreImportsFollowTheRows(t *testing.T) {
	_, files := core(t)
	if len(files) == 0 {
		t.Fatal("no core files found")
	}
	for _, s := range files {
		for _, path := range s.imports(t) {
			if why := breach(s.pkg, path); why != "" {
				t.Errorf("%s: %s", s.path, why)
			}
		}
	}
}

// TestBreachIsSeen shows that the rule above can fail.
func TestBreachIsSeen(t *testing.T) {
	for _, c := range []struct {
		pkg, path string
		want      bool
	}{
		{"geom", "math", false},
		{"geom", module + "/service/body", true},
		{"track", module + "/service/camera", false},
		{"camera", module + "/service/track", true},
		{"measure", module + "/service/client", true},
		{"measure", module + "/proto/courtkin/v1", true},
		{"measure", "google.golang.org/grpc", true},
		{"track", "gonum.org/v1/gonum/mat", false},
		{"cue", "cel.dev/cel-go/cel", false},
		{"feed", "cel.dev/cel-go/cel", true},
		{"swing", "log/slog", true},
		{"swing", "net/http", true},
		{"swing", "os", true},
		{"swing", "time", false},
		{"swing", "cmp", false},
	} {
		if got := breach(c.pkg, c.path) != ""; got != c.want {
			t.Errorf("%s importing %s: breach %v, want %v", c.pkg, c.path, got, c.want)
		}
	}
}

// TestEveryFolderIsPlaced fails on a new folder below service that has neither
// a row nor a place among the edges.
func TestEveryFolderIsPlaced(t *testing.T) {
	entries, err := os.ReadDir(root + "/service")
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		_, ok := rows[e.Name()]
		if e.Name() == "testdata" {
			continue // no package: what the edge's fuzzing kept
		}
		if e.IsDir() && !ok && !slices.Contains(edges, e.Name()) {
			t.Errorf("service/%s: give it a row in rows, or name it among edges", e.Name())
		}
	}
}

// TestRowsHaveNoCycle walks the table itself.
func TestRowsHaveNoCycle(t *testing.T) {
	var walk func(pkg string, from []string)
	walk = func(pkg string, from []string) {
		if slices.Contains(from, pkg) {
			t.Fatalf("cycle: %s", strings.Join(append(from, pkg), " → "))
		}
		for _, next := range rows[pkg] {
			walk(next, append(slices.Clone(from), pkg))
		}
	}
	for pkg := range rows {
		walk(pkg, nil)
	}
}

// clockCalls are the functions of package time that read or wait for a clock.
var clockCalls = []string{"Now", "Since", "Until", "Sleep", "After", "AfterFunc", "Tick", "NewTimer", "NewTicker"}

// TestCoreReadsNoClock: time comes from the frames. Trials alone may look at a
// clock, to tell how long the machine took.
func TestCoreReadsNoClock(t *testing.T) {
	set, files := core(t)
	for _, s := range files {
		if s.pkg == "trial" {
			continue
		}
		ast.Inspect(s.file, func(n ast.Node) bool {
			sel, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			if x, ok := sel.X.(*ast.Ident); ok && x.Name == "time" && slices.Contains(clockCalls, sel.Sel.Name) {
				t.Errorf("%s: time.%s: time comes from the frames alone", set.Position(sel.Pos()), sel.Sel.Name)
			}
			return true
		})
	}
}

// TestCoreStartsNoGoroutine: goroutines are for the edges, and so are locks. Memory that
// one caller leaves to the next (sync.Pool) is not: the service's
// TestTheCoreFromManyGoroutines has many callers take it. What holds to it, tests too, is
// what .ci/run leaves out under the race detector, no more and no less.
func TestCoreStartsNoGoroutine(t *testing.T) {
	var held []string
	for pkg := range rows {
		held = append(held, pkg)
		alone(t, root+"/service/"+pkg)
	}
	script, err := os.ReadFile(root + "/.ci/run")
	if err != nil {
		t.Fatal(err)
	}
	_, list, _ := strings.Cut(string(script), "\ncore=(")
	list, _, _ = strings.Cut(list, ")")
	left := strings.Fields(list)
	slices.Sort(held)
	slices.Sort(left)
	if !slices.Equal(left, held) {
		t.Errorf(".ci/run leaves %v out under the race detector, held to it are %v", left, held)
	}
}

// alone reports what in the Go files below a folder, tests among them, could run beside
// something else.
func alone(t *testing.T, folder string) {
	t.Helper()
	set := token.NewFileSet()
	err := filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		file, err := parser.ParseFile(set, path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		if slices.Contains((source{path: path, file: file}).imports(t), "sync/atomic") {
			t.Errorf("%s: imports sync/atomic", path)
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.GoStmt:
				t.Errorf("%s: go statement", set.Position(n.Pos()))
			case *ast.SelectorExpr:
				x, _ := n.X.(*ast.Ident)
				lock := x != nil && x.Name == "sync" && n.Sel.Name != "Pool"
				if lock || n.Sel.Name == "Parallel" || n.Sel.Name == "RunParallel" {
					t.Errorf("%s: %s", set.Position(n.Pos()), n.Sel.Name)
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// TestGatewayKnowsOnlyTheContract: the gateway is a client of the proto.
func TestGatewayKnowsOnlyTheContract(t *testing.T) {
	if _, err := os.Stat(root + "/gateway"); err != nil {
		t.Skip("no gateway")
	}
	_, files := sources(t, root+"/gateway")
	for _, s := range files {
		for _, path := range s.imports(t) {
			if path == module+"/service" || strings.HasPrefix(path, module+"/service/") {
				t.Errorf("%s imports %s", s.path, path)
			}
		}
	}
}
