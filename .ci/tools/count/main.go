// Command count reads the events of "go test -json" and tells what was run.
//
//	count -report LOG         one line a package; output of what failed; reasons of what skipped
//	count -total LOG…         the closing line "N passed, N failed, N skipped"
//
// It counts leaves: a test with subtests is counted by its subtests, not once
// more itself. A package that fails with no failed test in it (it did not
// build, it panicked, it timed out) counts as one failure.
package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"sort"
	"strings"
)

// event is one line of go test -json (go doc test2json).
type event struct {
	Action      string
	Package     string
	ImportPath  string // of build output
	Test        string
	Output      string
	Elapsed     float64
	FailedBuild string
}

// test is what is known of one test, or of a package itself when its name is empty.
type test struct {
	pkg, name string
	action    string // pass, fail, skip, or run while no end was seen
	output    []string
	elapsed   float64
}

// log holds the tests of one run by package and name.
type log struct {
	tests map[[2]string]*test
	build map[string][]string // build output by import path
}

func main() {
	report := flag.Bool("report", false, "print one line a package and what failed")
	total := flag.Bool("total", false, "print the closing line")
	checks := flag.Int("checks-failed", 0, "failed steps, to be counted as failures where no test failed")
	flag.Parse()
	if !*report && !*total {
		flag.Usage()
		os.Exit(2)
	}
	if err := run(os.Stdout, flag.Args(), *total, *checks); err != nil {
		fmt.Fprintln(os.Stderr, "count:", err)
		os.Exit(1)
	}
}

func run(out io.Writer, paths []string, total bool, checks int) error {
	var sum tally
	for _, path := range paths {
		l, err := read(path)
		if err != nil {
			return err
		}
		sum = sum.plus(l.tally())
		if !total {
			l.report(out)
		}
	}
	if !total {
		return nil
	}
	sum.failed = max(sum.failed, checks)
	fmt.Fprintf(out, "%d passed, %d failed, %d skipped\n", sum.passed, sum.failed, sum.skipped)
	if sum.failed > 0 {
		os.Exit(1)
	}
	if sum.passed == 0 {
		return errors.New("no test was run")
	}
	return nil
}

func read(path string) (*log, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	l := &log{tests: map[[2]string]*test{}, build: map[string][]string{}}
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 64<<20)
	for lines.Scan() {
		var e event
		if json.Unmarshal(lines.Bytes(), &e) == nil {
			l.take(e)
		}
	}
	return l, lines.Err()
}

func (l *log) take(e event) {
	if e.ImportPath != "" {
		l.build[e.ImportPath] = append(l.build[e.ImportPath], e.Output)
		return
	}
	key := [2]string{e.Package, e.Test}
	t := l.tests[key]
	if t == nil {
		t = &test{pkg: e.Package, name: e.Test, action: "run"}
		l.tests[key] = t
	}
	switch e.Action {
	case "output":
		t.output = append(t.output, e.Output)
	case "pass", "fail", "skip":
		t.action, t.elapsed = e.Action, e.Elapsed
		if e.FailedBuild != "" {
			t.output = append(t.output, l.build[e.FailedBuild]...)
		}
	}
}

// tally counts leaves.
type tally struct{ passed, failed, skipped int }

func (a tally) plus(b tally) tally {
	return tally{a.passed + b.passed, a.failed + b.failed, a.skipped + b.skipped}
}

func (l *log) tally() tally {
	var n tally
	for _, t := range l.leaves() {
		switch t.action {
		case "pass":
			n.passed++
		case "skip":
			n.skipped++
		default: // failed, or never came to its end
			n.failed++
		}
	}
	return n
}

// leaves returns the tests without subtests, and packages that failed with no failed test.
func (l *log) leaves() []*test {
	parent, failing := map[[2]string]bool{}, map[string]bool{}
	for key, t := range l.tests {
		for name := key[1]; ; {
			cut := strings.LastIndexByte(name, '/')
			if cut < 0 {
				break
			}
			name = name[:cut]
			parent[[2]string{key[0], name}] = true
		}
		if t.name != "" && t.action != "pass" && t.action != "skip" {
			failing[t.pkg] = true
		}
	}
	var leaves []*test
	for key, t := range l.tests {
		switch {
		case t.name == "":
			if t.action == "fail" && !failing[t.pkg] {
				leaves = append(leaves, t)
			}
		case !parent[key] || t.failsAlone(l):
			leaves = append(leaves, t)
		}
	}
	sort.Slice(leaves, func(i, j int) bool {
		if leaves[i].pkg != leaves[j].pkg {
			return leaves[i].pkg < leaves[j].pkg
		}
		return leaves[i].name < leaves[j].name
	})
	return leaves
}

// failsAlone reports whether a test failed though none of its subtests did.
func (t *test) failsAlone(l *log) bool {
	if t.action == "pass" || t.action == "skip" {
		return false
	}
	for key, sub := range l.tests {
		if key[0] == t.pkg && strings.HasPrefix(key[1], t.name+"/") && sub.action != "pass" && sub.action != "skip" {
			return false
		}
	}
	return true
}

// report prints a line for each package, then failures whole and skips with their reason.
func (l *log) report(out io.Writer) {
	var pkgs []*test
	for _, t := range l.tests {
		if t.name == "" {
			pkgs = append(pkgs, t)
		}
	}
	sort.Slice(pkgs, func(i, j int) bool { return pkgs[i].pkg < pkgs[j].pkg })
	for _, p := range pkgs {
		if p.action != "skip" { // a package without tests
			fmt.Fprintf(out, "%-4s %6.1f s  %s\n", p.action, p.elapsed, p.pkg)
		}
	}
	for _, t := range l.leaves() {
		switch t.action {
		case "pass":
		case "skip":
			fmt.Fprintf(out, "skipped: %s %s: %s\n", t.pkg, t.name, t.reason())
		default:
			fmt.Fprintf(out, "failed: %s %s\n%s", t.pkg, t.name, l.story(t))
		}
	}
}

// story returns what a failure printed: its own lines, or the package's
// when it has none to show (a panic or a timeout speaks for the package).
func (l *log) story(t *test) string {
	own := strings.Join(t.output, "")
	if p := l.tests[[2]string{t.pkg, ""}]; p != nil && t.action == "run" {
		own += strings.Join(p.output, "")
	}
	return own
}

// reason returns the message of a skip.
func (t *test) reason() string {
	for _, line := range t.output {
		line = strings.TrimSpace(line)
		if line != "" && !strings.HasPrefix(line, "===") && !strings.HasPrefix(line, "---") {
			return line
		}
	}
	return "no reason given"
}
