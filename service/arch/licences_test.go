package arch

import (
	"bufio"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write deploy/licences.md anew")

// kinds recognises licences by words that only they have, tried in order
// after white space is folded. All of them allow use, change and sale without
// opening one's own source.
var kinds = []struct{ name, words string }{
	{"Apache-2.0", "apache license version 2.0"},
	{"MIT", "permission is hereby granted, free of charge, to any person obtaining a copy"},
	{"ISC", "permission to use, copy, modify, and/or distribute this software for any purpose"},
	{"ISC", "permission to use, copy, modify, and distribute this software for any purpose"},
	{"BSD-3-Clause", "neither the name of"},
	{"BSD-3-Clause", "neither name of"},
	{"BSD-3-Clause", "the names of its contributors may not be used"},
	{"BSD-2-Clause", "redistribution and use in source and binary forms, with or without modification, are permitted"},
}

// notPermissive marks licences that ask more of the user than naming the author.
var notPermissive = []string{"gnu general public license", "gnu lesser general public", "gnu affero", "mozilla public license", "eclipse public license", "server side public license", "business source license"}

// kind names the licence in a text, or says that it knows none.
func kind(text string) (string, bool) {
	folded := strings.Join(strings.Fields(strings.ToLower(text)), " ")
	for _, words := range notPermissive {
		if strings.Contains(folded, words) && !strings.Contains(folded, "apache license version 2.0") {
			return words, false
		}
	}
	for _, k := range kinds {
		if strings.Contains(folded, k.words) {
			return k.name, true
		}
	}
	return "unknown", false
}

// linked is a module that is built into the binary.
type linked struct{ path, version, dir string }

// modules lists what cmd/courtkin is built from, but for the module itself.
func modules(t *testing.T) []linked {
	t.Helper()
	cmd := exec.Command("go", "list", "-deps", "-f",
		"{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}", "./cmd/courtkin")
	cmd.Dir = root
	cmd.Stderr = os.Stderr
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var found []linked
	lines := bufio.NewScanner(strings.NewReader(string(out)))
	for lines.Scan() {
		if f := strings.Split(lines.Text(), "\t"); len(f) == 3 {
			found = append(found, linked{f[0], f[1], f[2]})
		}
	}
	slices.SortFunc(found, func(a, b linked) int { return strings.Compare(a.path, b.path) })
	return slices.Compact(found)
}

// licence reads the licence of a module from its folder in the module cache.
func licence(dir string) (string, bool) {
	for _, pattern := range []string{"LICENSE*", "LICENCE*", "License*", "COPYING*", "license*"} {
		files, _ := filepath.Glob(filepath.Join(dir, pattern))
		for _, file := range files {
			text, err := os.ReadFile(file)
			if err != nil {
				continue
			}
			if name, ok := kind(string(text)); ok {
				return name, true
			}
		}
	}
	return "none that is known", false
}

func TestLicences(t *testing.T) {
	if main, _ := filepath.Glob(root + "/cmd/courtkin/*.go"); len(main) == 0 {
		t.Skip("cmd/courtkin has no Go files")
	}
	var page strings.Builder
	page.WriteString("# Modules built into the binary, and their licences\n\n" +
		"Made by `go test ./service/arch -run Licences -update`; all of them permissive.\n\n" +
		"| module | version | licence |\n|---|---|---|\n")
	for _, m := range modules(t) {
		name, ok := licence(m.dir)
		if !ok {
			t.Errorf("%s %s: licence is %s", m.path, m.version, name)
		}
		fmt.Fprintf(&page, "| %s | %s | %s |\n", m.path, m.version, name)
	}
	const path = root + "/deploy/licences.md"
	if *update {
		if err := os.WriteFile(path, []byte(page.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	written, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(written) != page.String() {
		t.Error("deploy/licences.md is not what the binary is built from: go test ./service/arch -run Licences -update")
	}
}

// TestKind reads first words of licences as their own texts have them.
func TestKind(t *testing.T) {
	own, err := os.ReadFile(root + "/LICENSE")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		text, want string
		ok         bool
	}{
		{string(own), "Apache-2.0", true},
		{"MIT License\n\nPermission is hereby granted, free of charge, to any person\nobtaining a copy", "MIT", true},
		{"Redistribution and use in source and binary forms, with or without\nmodification, are permitted provided", "BSD-2-Clause", true},
		{"Mozilla Public License Version 2.0", "mozilla public license", false},
		{"GNU GENERAL PUBLIC LICENSE Version 3", "gnu general public license", false},
		{"All rights reserved.", "unknown", false},
	} {
		if got, ok := kind(c.text); got != c.want || ok != c.ok {
			t.Errorf("%.40q: %s, %v; want %s, %v", c.text, got, ok, c.want, c.ok)
		}
	}
}
