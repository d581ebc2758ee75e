package main

import (
	"flag"
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

var updateFaults = flag.Bool("update-faults", false, "write the figures of the fault suite to deploy/faults.md")

// figures are one row of the table.
type figures struct {
	mu                   sync.Mutex
	tries, lost, doubled int
	recovered            []time.Duration
	note                 string // in place of a time to recover
}

// took adds one streaming with a number of faults.
func (f *figures) took(t *testing.T, faults int, ids []string, recovered []time.Duration) {
	t.Helper()
	lost, doubled := held(t, ids)
	f.mu.Lock()
	defer f.mu.Unlock()
	f.tries += faults
	f.lost += lost
	f.doubled += doubled
	f.recovered = append(f.recovered, recovered...)
}

func (f *figures) String() string {
	again := f.note
	if len(f.recovered) > 0 {
		slices.Sort(f.recovered)
		again = fmt.Sprintf("%s / %s", short(f.recovered[len(f.recovered)/2]), short(f.recovered[len(f.recovered)-1]))
	}
	if again == "" {
		again = "no break"
	}
	return fmt.Sprintf("| %d | %d | %d | %s |", f.tries, f.lost, f.doubled, again)
}

func short(d time.Duration) string {
	if d < time.Second {
		return fmt.Sprintf("%d ms", d.Milliseconds())
	}
	return fmt.Sprintf("%.1f s", d.Seconds())
}

var pageMu sync.Mutex

// tell writes a fault's row, when that is asked for.
func (f *figures) tell(name string) {
	if !*updateFaults {
		return
	}
	pageMu.Lock()
	defer pageMu.Unlock()
	const page = "../../deploy/faults.md"
	text, err := os.ReadFile(page)
	if err != nil {
		panic(err)
	}
	row := regexp.MustCompile(`(?m)^(\| ` + regexp.QuoteMeta(name) + ` \|[^|]*\|[^|]*) \|.*$`)
	if !row.Match(text) {
		panic(name + " is not on the page")
	}
	text = row.ReplaceAll(text, []byte("${1} "+strings.ReplaceAll(f.String(), "$", "$$")))
	if err := os.WriteFile(page, text, 0o644); err != nil {
		panic(err)
	}
}
