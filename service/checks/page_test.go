package checks

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
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
inputs; *from memory* where the print was not at hand; *run live* where another library
answers as the test runs; *common practice, no source* for facts of the trade. Published bands of players'
figures come from 5 to 20 people: the check is that a swing built to the value is
measured back, never that a player should have it.
`

// elsewhere lists checks of the same kind that live beside what they check.
var elsewhere = []struct{ what, file, test string }{
	{"OpenCV, run live: projection, undistortion, two-view points, pose and focal length from court marks", "camera/opencv_test.go", "TestOpenCV"},
	{"G46 direct linear transformation, published two-view example", "camera/triangulate_test.go", "TestPublishedDLT"},
	{"G48 scaled-orthographic foreshortening", "camera/faults_test.go", "TestScaledOrthography"},
	{"G27 fall of 254 cm by the clock check", "camera/slowmotion_test.go", "TestFreeFall254"},
	{"G29 ball and racket that contradict each other, on made swings in 3-D", "swing/impactcheck_test.go", "TestBallAndRacketCheckEachOther"},
	{"more poses by hand, own definitions with them", "measure/pose_test.go", "TestPoses"},
	{"measures of made swings against the generator's own reading of the definitions", "measure/truth_test.go", "TestAgreesWithMadeTruth"},
}

func elsewhereList(t *testing.T) string {
	var b strings.Builder
	b.WriteString("\n## Checked beside the code\n\n| check | test |\n|---|---|\n")
	for _, e := range elsewhere {
		text, err := os.ReadFile("../" + e.file)
		if err != nil || !strings.Contains(string(text), "func "+e.test+"(") {
			t.Errorf("no test %s in service/%s", e.test, e.file)
		}
		fmt.Fprintf(&b, "| %s | `%s` in service/%s |\n", e.what, e.test, e.file)
	}
	return b.String()
}

func TestPage(t *testing.T) {
	have, err := os.ReadFile(page)
	if err != nil && !*write {
		t.Fatal(err)
	}
	var b bytes.Buffer
	b.WriteString(head)
	for _, s := range sections() {
		b.WriteString(s.text(t, string(have)))
	}
	b.WriteString(elsewhereList(t))
	b.WriteString(failingList())
	b.WriteString(uncheckedList())
	if *write {
		if err := os.WriteFile(page, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		have = b.Bytes()
	}
	if !bytes.Equal(have, b.Bytes()) {
		t.Errorf("%s is out of date: go test ./service/checks -write", page)
	}
}

// text is the section as the page prints it; a section that is not run here is taken
// from the page as it stands.
func (s *section) text(t *testing.T, have string) string {
	heading := fmt.Sprintf("\n## %s\n", s.title)
	run := false
	t.Run(s.title, func(t *testing.T) { s.skip(t); run = true })
	if !run {
		_, rest, _ := strings.Cut(have, heading)
		old, _, _ := strings.Cut(rest, "\n## ")
		return heading + old
	}
	var b strings.Builder
	b.WriteString(heading + "\n")
	if s.about != "" {
		b.WriteString(s.about + "\n")
	}
	b.WriteString("| check | quantity | expected | got | tolerance | source | how had |\n|---|---|---|---|---|---|---|\n")
	for _, r := range s.rows {
		b.WriteString(r.line(r.result(t)))
	}
	if s.table != nil {
		b.WriteString(s.table(t))
	}
	return b.String()
}

// failingList is the section about the rows that are known to fail.
func failingList() string {
	if len(failing) == 0 {
		return ""
	}
	var b strings.Builder
	b.WriteString("\n## Failing now\n\n| check | why |\n|---|---|\n")
	for _, id := range slices.Sorted(maps.Keys(failing)) {
		fmt.Fprintf(&b, "| %s | %s |\n", id, failing[id])
	}
	return b.String()
}

// line is the row as the page prints it.
func (r row) line(got float64) string {
	tol := "± " + number(r.tol)
	if r.below || r.above {
		tol = "bound"
	}
	said := r.rounded(got)
	if !r.holds(got) {
		said = "**" + said + ", fails**"
	}
	return fmt.Sprintf("| %s | %s | %s | %s | %s | %s | %s |\n", r.id, r.quantity, r.expected(), said, tol, r.source, r.seen)
}

// expected is what the row asks for.
func (r row) expected() string {
	text := number(r.want) + unit(r.unit)
	switch {
	case r.below:
		return "< " + text
	case r.above:
		return "≥ " + text
	}
	return text
}

// wanted is the same with the tolerance.
func (r row) wanted() string {
	if r.below || r.above {
		return r.expected()
	}
	return r.expected() + " ± " + number(r.tol)
}

// rounded prints got no finer than the tolerance, or to two figures under a bound:
// the page then changes only when something worth reading has.
func (r row) rounded(got float64) string {
	if (r.below || r.above) && math.Abs(got) >= 10 {
		return strconv.FormatFloat(got, 'f', 0, 64)
	}
	if r.below || r.above {
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
