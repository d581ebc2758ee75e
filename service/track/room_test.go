//go:build unix

package track_test

import (
	"fmt"
	"slices"
	"testing"

	"example.com/courtkin/service/synth"
	"example.com/courtkin/service/track"
)

// TestUsedRoomsChangeNothing solves windows in memory that other solves, of other
// conditions and lengths, have used.
func TestUsedRoomsChangeNothing(t *testing.T) {
	said := func(w track.Window) string {
		w.Frames = slices.Clone(w.Frames)
		p, err := track.Solve(&w)
		if err != nil {
			t.Fatal(err)
		}
		out := fmt.Sprint(p.Contact, p.ContactSD, p.Mean().Clone())
		for k := range 7 {
			out += fmt.Sprint(p.Drawn(k).Clone()) // without its scratch
		}
		p.Release()
		return out
	}
	var ws []track.Window
	for _, c := range []synth.Condition{'W', 'T', 'P'} {
		ws = append(ws, windowsOf(c, 2)...)
	}
	ws[1].Frames = ws[1].Frames[len(ws[1].Frames)/5:]
	var first []string
	for i := range ws {
		first = append(first, said(ws[i]))
	}
	for i := len(ws) - 1; i >= 0; i-- {
		if said(ws[i]) != first[i] {
			t.Errorf("window %d: another answer in used memory", i)
		}
	}
}
