package checks

import (
	"bytes"
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"testing"
)

var write = flag.Bool("write", false, "write testdata/checks.md anew")

const page = "../../testdata/checks.md"

// head opens the page.
const head = `# Checked against the world outside

Written by ` + "`go test ./service/checks -write`" + `; the same test without the flag fails
when a check fails or this page is out of date.

How the expected number was had: *read* in the source itself; *read at second hand*
in a review, a textbook page or another project's tests; *computed* from stated
inputs; *from memory* where the print was not at hand. Published bands of players'
figures come from 5 to 20 people: the check is that a swing built to the value is
measured back, never that a player should have it.
`

// tail closes the page.
const tail = `
## Published, not checked here

| number | why |
|---|---|
| G04 onset of racket acceleration, G14 turning speed at impact, G17 face angle, G22 step times | the service reports no such figure |
| G05 velocity read 5 ms before impact | the service reads the limit at impact; see Impact above |
| G19, G20, G21 serve | no serve by formula yet; made serves are scored in service/trial |
| G24, G25 ball and racket limits, G28, G29 restitution | no such constant in the service outside made swings |
| G32 keypoint label noise, G33, G34 errors of markerless systems | noise is learned from each clip, not assumed |
| G38 extremes of the measured movement | a property of the recording, not of a method |
| G46 direct linear transformation | in the tests of service/camera |
| G47 segment masses | the service weighs nobody |
| G48 foreshortening | inside service/track; no figure of its own |
`

func TestPage(t *testing.T) {
	if t.Failed() {
		return
	}
	var b bytes.Buffer
	b.WriteString(head)
	for _, s := range sections() {
		fmt.Fprintf(&b, "\n## %s\n\n", s.title)
		b.WriteString("| check | quantity | expected | got | tolerance | source | how had |\n|---|---|---|---|---|---|---|\n")
		for _, r := range s.rows {
			b.WriteString(r.line(r.got(t)))
		}
	}
	b.WriteString(tail)
	if *write {
		if err := os.WriteFile(page, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	have, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(have, b.Bytes()) {
		t.Errorf("%s is out of date: go test ./service/checks -write", page)
	}
}

// line is the row as the page prints it.
func (r row) line(got float64) string {
	expected, tol := number(r.want)+unit(r.unit), "± "+number(r.tol)
	if r.below {
		expected, tol = "< "+expected, "bound"
	}
	return fmt.Sprintf("| %s | %s | %s | %s | %s | %s | %s |\n", r.id, r.quantity, expected, r.rounded(got), tol, r.source, r.seen)
}

// rounded prints got no finer than the tolerance, or to two figures under a bound:
// the page then changes only when something worth reading has.
func (r row) rounded(got float64) string {
	if r.below {
		return strconv.FormatFloat(got, 'g', 2, 64)
	}
	decimals := max(0, int(math.Ceil(-math.Log10(r.tol))))
	text := strconv.FormatFloat(got, 'f', decimals, 64)
	if v, _ := strconv.ParseFloat(text, 64); v == 0 {
		return strconv.FormatFloat(0, 'f', decimals, 64) // no −0
	}
	return text
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

func unit(u string) string {
	if u == "" {
		return ""
	}
	return " " + u
}
