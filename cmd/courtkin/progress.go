package main

import (
	"fmt"
	"io"
	"os"
	"strings"
)

// longClip is from how many frames on progress is shown: less is done at once.
const longClip = 20_000

// progress draws how far a long clip is, on a terminal alone.
type progress struct {
	out   io.Writer // nil: quiet
	name  string
	total int
	last  int // percent drawn
}

func newProgress(out io.Writer, name string, total int) *progress {
	if !isTerminal(out) || total < longClip {
		out = nil
	}
	return &progress{out: out, name: name, total: total, last: -1}
}

func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// at draws that done frames are done.
func (p *progress) at(done int) {
	if p.out == nil {
		return
	}
	if percent := 100 * done / p.total; percent != p.last {
		p.last = percent
		fmt.Fprintf(p.out, "\r%s: %3d %%", p.name, percent)
	}
}

// end takes the drawing away.
func (p *progress) end() {
	if p.out != nil {
		fmt.Fprintf(p.out, "\r%s\r", strings.Repeat(" ", len(p.name)+8))
	}
}
